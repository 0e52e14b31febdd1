"""Foible in the browser: pages and a JSON API over the services. No reasoning here."""

from foible.web.application import create_app
from foible.web.settings import Settings

__all__ = ["Settings", "create_app"]
