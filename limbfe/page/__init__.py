"""The case as a page in the browser: entered, drawn while one types, judged where one stands.

One more door to the same case file; `limbfe sheet` opens it.
"""
