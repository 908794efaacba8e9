"""Requests to the page's application without a network."""

from __future__ import annotations

import asyncio
import json
from typing import Any

HOST = "127.0.0.1:8765"
TOKEN = "a-token-nobody-guesses"


def request(
    app: Any,
    path: str,
    body: Any = None,
    *,
    method: str = "POST",
    headers: dict[str, str | None] | None = None,
) -> tuple[int, dict[str, str], bytes]:
    """Return status, headers and body of an answer; `headers` of None are left out."""
    content = body if isinstance(body, bytes) else json.dumps(body).encode()
    given = {
        "host": HOST,
        "origin": f"http://{HOST}",
        "content-type": "application/json",
        "content-length": str(len(content)),
        **(headers or {}),
    }
    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": method,
        "scheme": "http",
        "path": path,
        "raw_path": path.encode(),
        "query_string": b"",
        "root_path": "",
        "headers": [(k.encode(), v.encode()) for k, v in given.items() if v is not None],
        "client": ("127.0.0.1", 5),
        "server": ("127.0.0.1", 8765),
    }
    sent: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": content, "more_body": False}

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    asyncio.run(app(scope, receive, send))
    start = next(one for one in sent if one["type"] == "http.response.start")
    answer = b"".join(one.get("body", b"") for one in sent)
    return start["status"], {k.decode(): v.decode() for k, v in start["headers"]}, answer
