"""WSGI entry point for granian."""

import gc
import os
from importlib import import_module

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service.settings")
application = get_wsgi_application()


def _settle() -> None:
    """Load the pages now, and leave what is loaded out of every later collection of garbage.

    What a web process loads (some hundred thousand objects) lives as long as the process. Else some request every few
    seconds goes through all of it, which takes longer than the page.
    """
    from django.conf import settings

    import_module(settings.ROOT_URLCONF)
    gc.collect()
    gc.freeze()


_settle()
