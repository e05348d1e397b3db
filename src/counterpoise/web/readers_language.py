"""What is drawn for a page is drawn in its reader's language; a program is answered in English."""

from __future__ import annotations

from fastapi import Request
from starlette.types import ASGIApp, Receive, Scope, Send

from counterpoise.report.languages import tongue
from counterpoise.web.render import reads


class InReadersLanguage:
    """Sets the language in which labels of drawings are made while a page is worked out.

    A drawing is made before its page, since the page only shows it.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on in the language of whoever reads the answer."""
        # JSON has one language: programs look for texts by what they are in English
        if scope["type"] != "http" or scope["path"].startswith("/api"):
            await self.app(scope, receive, send)
            return
        with tongue.reading(reads(Request(scope))):
            await self.app(scope, receive, send)
