"""The routes of the page: small questions in JSON, answered from one `Room`."""

from __future__ import annotations

import functools
import json
from collections.abc import Awaitable, Callable
from importlib import resources
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Route

from limbfe.analysis.bow.setup import BowSetup
from limbfe.case.build import build_setup
from limbfe.case.values import above_zero
from limbfe.errors import CaseError, LimbfeError
from limbfe.page.desk import ChangedMeanwhileError, Desk, StaleError
from limbfe.page.entry import describe_entry
from limbfe.page.guard import REPORT_POLICY, TooLargeError
from limbfe.page.menus import describe_menus
from limbfe.page.papers import PAPERS
from limbfe.page.room import Room
from limbfe.page.tiller import ENDING as LOG_ENDING
from limbfe.page.tiller import Change, change_log, log_name, look_at_log, undo_log

KINDS = {".html": "text/html", ".css": "text/css", ".js": "text/javascript"}
PICTURES = {"pattern.pdf": "application/pdf", "stave.png": "image/png", "side.png": "image/png"}
MOST_EDITS = 5000
"""Changes in one request: a pasted spreadsheet is one."""

Answer = Callable[[Room, dict[str, Any]], Any]
Endpoint = Callable[[Request], Awaitable[Response]]


def make_app(room: Room) -> Starlette:
    """Return the application, without its door (`limbfe.page.guard.Guard`)."""
    return Starlette(
        routes=[
            Route("/", _page, methods=["GET"]),
            Route("/static/{name}", _static, methods=["GET"]),
            *(
                Route(f"/{name}", _endpoint(room, answer), methods=["POST"])
                for name, answer in _ANSWERS.items()
            ),
            Route("/report/{number:int}", functools.partial(_report, room), methods=["GET"]),
            Route("/file/{number:int}/{name}", functools.partial(_file, room), methods=["GET"]),
        ]
    )


async def _page(request: Request) -> Response:
    return await _static_file("page.html")


async def _static(request: Request) -> Response:
    return await _static_file(request.path_params["name"])


async def _static_file(name: str) -> Response:
    """Return one of the page's own files, looked up among those there are."""
    files = {
        file.name: file for file in resources.files("limbfe.page").joinpath("static").iterdir()
    }
    ending = name[name.rfind(".") :] if "." in name else ""
    if name not in files or ending not in KINDS:
        return PlainTextResponse("not here", 404)
    return Response(files[name].read_bytes(), media_type=KINDS[ending])


async def _report(room: Room, request: Request) -> Response:
    number = request.path_params["number"]
    place = room.scratch / str(number) / "report.html"
    if not place.is_file():
        return PlainTextResponse("this report is no longer here; assess the bow again", 404)
    content = await run_in_threadpool(place.read_bytes)
    headers = {"content-security-policy": REPORT_POLICY}
    return Response(content, media_type="text/html", headers=headers)


async def _file(room: Room, request: Request) -> Response:
    """Return one of the pictures of a layout."""
    number, name = request.path_params["number"], request.path_params["name"]
    place = room.scratch / str(number) / name
    if name not in PICTURES or not place.is_file():
        return PlainTextResponse("this picture is no longer here; lay the bow again", 404)
    return Response(await run_in_threadpool(place.read_bytes), media_type=PICTURES[name])


def _endpoint(room: Room, answer: Answer) -> Endpoint:
    """Return the way from a request in JSON to an answer in JSON.

    What the user may put right comes as 400 with ``"error"``; 409 asks a question back.
    """

    async def endpoint(request: Request) -> Response:
        try:
            asked = json.loads(await request.body())
        except TooLargeError:
            return PlainTextResponse("too large", 413)
        except (ValueError, RecursionError):
            asked = None
        if not isinstance(asked, dict):
            return JSONResponse({"error": "must be one JSON object"}, 400)
        try:
            return JSONResponse(await run_in_threadpool(answer, room, asked))
        except StaleError as error:
            desk = room.desk(asked.get("desk"))
            state = await run_in_threadpool(desk.look, _at(asked))
            return JSONResponse({"error": str(error), "stale": True, "state": state}, 409)
        except ChangedMeanwhileError as error:
            return JSONResponse({"error": str(error), "changed": True}, 409)
        except LimbfeError as error:
            return JSONResponse({"error": str(error)}, 400)

    return endpoint


def _at(asked: dict[str, Any]) -> float | None:
    """Return where the section is looked at, m; the page counts in mm."""
    at = asked.get("at")
    return 1e-3 * at if isinstance(at, int | float) and abs(at) < 1e6 else None


def _version(asked: dict[str, Any]) -> int:
    version = asked.get("version")
    return version if isinstance(version, int) else -1


def _start(room: Room, asked: dict[str, Any]) -> Any:
    """What may be started from, and what the fields are built from."""
    entry = {kind: describe_entry(kind) for kind in PAPERS}
    starts = room.starts()
    bows = [one for one in starts["cases"] if one["kind"] == "bow"]
    menus = {
        **describe_menus(),
        "bows": [{**one, "group": "", "also": [], "figures": [], "notes": []} for one in bows],
    }
    return {"entry": entry, "menus": menus, **starts}


def _open(room: Room, asked: dict[str, Any]) -> Any:
    """A file of the folder by ``name``, or a new case: ``unit``, ``sample``, ``draft``, ``layout``.

    With ``stave`` a new stave.
    """
    name, layout = asked.get("name"), asked.get("layout")
    if isinstance(name, str):
        key, desk = room.open(name)
    else:
        key, desk = room.begin(
            unit=str(asked.get("unit", "")),
            sample=str(asked.get("sample", "")),
            draft=bool(asked.get("draft")),
            stave=asked.get("stave") is True,
            layout=layout if isinstance(layout, int) else None,
        )
    room.drawer.start()
    return {"desk": key, "state": desk.look()}


def _look(room: Room, asked: dict[str, Any]) -> Any:
    """The case as it is now, with the section at ``at``; None if ``version`` is still the last."""
    with room.lock:
        desk = room.desk(asked.get("desk"))
        if asked.get("unless") == desk.version:
            return {"state": None}
        return {"state": desk.look(_at(asked))}


def _change(room: Room, asked: dict[str, Any]) -> Any:
    """``edits`` made to ``version``, all or none."""
    edits = asked.get("edits")
    if not isinstance(edits, list) or len(edits) > MOST_EDITS:
        edits = []
    with room.lock:
        desk = room.desk(asked.get("desk"))
        desk.change(
            _version(asked),
            [edit for edit in edits if isinstance(edit, dict)],
            str(asked.get("mark", "")),
        )
        return {"state": desk.look(_at(asked))}


def _text(room: Room, asked: dict[str, Any]) -> Any:
    """The whole ``text``, as it was typed."""
    with room.lock:
        desk = room.desk(asked.get("desk"))
        desk.replace(_version(asked), str(asked.get("text", "")), "text")
        return {"state": desk.look(_at(asked))}


def _step(room: Room, asked: dict[str, Any]) -> Any:
    """``way``: "undo", "redo", or "disk" for what is on the disk."""
    with room.lock:
        desk = room.desk(asked.get("desk"))
        ways = {"undo": desk.undo, "redo": desk.redo, "disk": desk.throw_away}
        way = ways.get(str(asked.get("way")))
        if way is not None:
            way(_version(asked))
        return {"state": desk.look(_at(asked))}


def _save(room: Room, asked: dict[str, Any]) -> Any:
    """Into ``name``; ``over`` also where something else would be overwritten."""
    name = asked.get("name")
    with room.lock:
        desk = room.desk(asked.get("desk"))
        desk.save(
            _version(asked), name if isinstance(name, str) else None, over=asked.get("over") is True
        )
        return {"state": desk.look(_at(asked))}


def _draw(room: Room, asked: dict[str, Any]) -> Any:
    """The cheap draw; ``"drawn"`` is None if a newer one was asked for meanwhile."""
    return {"drawn": room.draw(room.desk(asked.get("desk")))}


def _assess(room: Room, asked: dict[str, Any]) -> Any:
    """Start the assessment; ``units`` are the reader's."""
    units = _units(asked)
    key = str(asked.get("desk"))
    room.desk(key).case()
    return {"job": room.start("assess", key, units).to_dict()}


def _job(room: Room, asked: dict[str, Any]) -> Any:
    """How far the long computation is."""
    found = room.job
    return {"job": None if found is None else found.to_dict()}


def _cancel(room: Room, asked: dict[str, Any]) -> Any:
    """Stop computation ``number``."""
    number = asked.get("number")
    if isinstance(number, int):
        room.cancel(number)
    return {}


def _units(asked: dict[str, Any]) -> str:
    return "imperial" if asked.get("units") == "imperial" else "metric"


def _log(room: Room, asked: dict[str, Any]) -> Any:
    """The tillering log of a case that has a file."""
    with room.lock:
        desk = room.desk(asked.get("desk"))
        if desk.name is None or desk.paper.kind != "bow":
            return {"log": None}
        name = log_name(desk.name)
        found = look_at_log(room.folder, name, _bow(desk))
        return {"log": {**found, "undo": bool(room.logs.get(name))}}


def _bow(desk: Desk) -> BowSetup | None:
    try:
        return build_setup(desk.case())
    except LimbfeError:
        return None  # the page says what is wrong with it


def _log_change(room: Room, asked: dict[str, Any]) -> Any:
    """A reading put into the log that was seen with ``digest``, or ``line`` taken out of it."""
    words, units, line, digest = (asked.get(key) for key in ("words", "units", "line", "digest"))
    change = Change(
        words={str(k): str(v) for k, v in words.items()} if isinstance(words, dict) else None,
        line=line if isinstance(line, int) else None,
        units={str(k): str(v) for k, v in units.items()} if isinstance(units, dict) else {},
    )
    with room.lock:
        desk = room.desk(asked.get("desk"))
        if desk.name is None:
            raise CaseError("save the bow first: its log lies beside its file")
        seen, name = digest if isinstance(digest, str) else None, log_name(desk.name)
        before = change_log(room.folder, name, seen, change, build_setup(desk.case()))
        room.logs.setdefault(name, []).append(before)
    return _log(room, asked)


def _log_undo(room: Room, asked: dict[str, Any]) -> Any:
    """The log as it was before its last change."""
    with room.lock:
        desk = room.desk(asked.get("desk"))
        name = log_name(desk.name or "")
        past = room.logs.get(name)
        if past:
            undo_log(room.folder, name, past.pop())
    return _log(room, asked)


def _fit(room: Room, asked: dict[str, Any]) -> Any:
    """Start the fit to the log: ``hold``, ``first_pull``, the ``weight`` wanted in the end."""
    key, hold, weight = str(asked.get("desk")), asked.get("hold"), str(asked.get("weight", ""))
    desk = room.desk(key)
    if desk.name is None:
        raise CaseError("save the bow first: its log lies beside its file")
    desk.case()
    if weight.strip():
        above_zero("draw weight", weight.strip(), "draw weight")
    job = room.start(
        "fit",
        key,
        _units(asked),
        log=str(room.folder.place(log_name(desk.name), LOG_ENDING)),
        hold=hold if hold in ("tiller", "hand", "clamp") else "tiller",
        first_pull=asked.get("first_pull") is True,
        weight=weight.strip(),
    )
    return {"job": job.to_dict()}


def _lay(room: Room, asked: dict[str, Any]) -> Any:
    """Start the search for the wanted bow in a stave."""
    key = str(asked.get("desk"))
    desk = room.desk(key)
    if desk.paper.kind != "stave":
        raise CaseError("this is a bow; a stave is laid out")
    desk.read()
    return {"job": room.start("lay", key, _units(asked)).to_dict()}


_ANSWERS: dict[str, Answer] = {
    "start": _start,
    "open": _open,
    "look": _look,
    "change": _change,
    "text": _text,
    "step": _step,
    "save": _save,
    "draw": _draw,
    "assess": _assess,
    "job": _job,
    "cancel": _cancel,
    "log": _log,
    "log_change": _log_change,
    "log_undo": _log_undo,
    "fit": _fit,
    "lay": _lay,
}
"""Every question by its address."""
