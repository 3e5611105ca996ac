"""What pages ask many times a second goes straight to its endpoint; all else to the application behind.

A panel's answers come in one moment, and all pages ask what is to be shown: to look through all routes for each, and to
hand it through layers that do nothing for it, takes as long as the rest of the application's part in it.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping, Sequence

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

Refusal = Callable[[Request, Exception], Awaitable[Response]]


class Direct:
    """Routes without parts that vary, found by method and path.

    Parameters
    ----------
    app
        What answers everything else, those routes by other methods too.
    refusals
        What is said where an error of this kind ends a request; those of other kinds go on to whoever is before this.
    """

    def __init__(self, app: ASGIApp, routes: Sequence[Route], refusals: Mapping[type[Exception], Refusal]) -> None:
        self._app = app
        self._refusals = refusals
        self._endpoints: dict[tuple[str, str], Callable[[Request], Awaitable[Response]]] = {
            (method, route.path): route.endpoint
            for route in routes
            if not route.param_convertors
            for method in ("GET", "POST")
            if method in (route.methods or ())
        }

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or hand it on."""
        endpoint = self._endpoints.get((scope["method"], scope["path"])) if scope["type"] == "http" else None
        if endpoint is None:
            await self._app(scope, receive, send)
            return
        request = Request(scope, receive, send)
        try:
            response = await endpoint(request)
        except Exception as error:
            refusal = next((self._refusals[kind] for kind in type(error).__mro__ if kind in self._refusals), None)
            if refusal is None:
                raise
            response = await refusal(request, error)
        await response(scope, receive, send)
