"""The pages as one WSGI application, every address loaded."""

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

application = get_wsgi_application()
# Before threads begin: threads that load parts of one package at the same time can meet half of it.
PATTERNS = get_resolver().url_patterns
