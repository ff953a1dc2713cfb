"""Settings of the served application: the records' own, and what pages need."""

import os
from importlib import resources
from pathlib import Path

from saddlebench.practice.settings import *  # noqa: F403
from saddlebench.practice.settings import INSTALLED_APPS as RECORD_APPS
from saddlebench.web.base.stamp import stamp_of
from saddlebench.web.slices import SLICES

WEB = Path(str(resources.files("saddlebench.web")))
BUNDLE = WEB / "base" / "static" / "bundle"

INSTALLED_APPS = [
    *RECORD_APPS,
    "django.contrib.staticfiles",
    "django_htmx",
    "saddlebench.web.base",
    *(f"saddlebench.web.{one.name}" for one in SLICES),
]
MIDDLEWARE = [
    "saddlebench.web.base.middleware.StrictHeaders",
    "saddlebench.web.base.middleware.CookiesApart",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "saddlebench.web.base.middleware.Paired",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "saddlebench.web.base.middleware.Standing",
    "saddlebench.web.base.middleware.WordedErrors",
]
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "saddlebench.web.base.context.layout",
            ],
            "builtins": ["saddlebench.web.base.templatetags.parts"],
        },
    }
]
ROOT_URLCONF = "saddlebench.web.urls"
WSGI_APPLICATION = "saddlebench.web.wsgi.application"

# `serve --phone` names the addresses under which the laptop is reached; nothing else is ever answered.
OWN_HOSTS = ["localhost", "127.0.0.1", "[::1]"]
ALLOWED_HOSTS = [*OWN_HOSTS, *filter(None, os.environ.get("SADDLEBENCH_HOSTS", "").split(","))]
PAIRING_CODE = os.environ.get("SADDLEBENCH_PAIRING_CODE", "")
SECURE_PORT = int(os.environ.get("SADDLEBENCH_SECURE_PORT") or 0)
TRUST_FOLDER = os.environ.get("SADDLEBENCH_TRUST_FOLDER", "")

# The stamp is part of every address of a static file, so that a browser may keep it for good.
STATIC_STAMP = stamp_of(sorted(WEB.glob("*/static")))
STATIC_URL = f"/static/{STATIC_STAMP}/"
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = False
WHITENOISE_IMMUTABLE_FILE_TEST = r"^/static/[0-9a-f]{12}/"
WHITENOISE_ALLOW_ALL_ORIGINS = False

LOCALE_PATHS = [WEB / "locale"]
LOGIN_URL = "accounts:sign_in"
# A day with the horses is longer than a browser's patience: half a year, renewed while in use.
SESSION_COOKIE_AGE = 180 * 24 * 3600
SESSION_COOKIE_NAME = "saddlebench_session"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_NAME = "saddlebench_form"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "saddlebench.web.base.errors.forged"
X_FRAME_OPTIONS = "DENY"

# One process: what is counted there against guessing is counted for everybody.
CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
DATA_UPLOAD_MAX_MEMORY_SIZE = 4 << 20
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000
DATA_UPLOAD_MAX_NUMBER_FILES = 60
FILE_UPLOAD_MAX_MEMORY_SIZE = 4 << 20
FILE_UPLOAD_PERMISSIONS = 0o600
LARGEST_REQUEST_BYTES = 600 << 20

APPEND_SLASH = True
DATETIME_FORMAT = "j M Y, H:i"
DATE_FORMAT = "j M Y"
TIME_FORMAT = "H:i"
USE_THOUSAND_SEPARATOR = False
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"terminal": {"class": "logging.StreamHandler", "level": "ERROR"}},
    # A stranger's wrong host name is answered and forgotten; it would fill the window otherwise.
    "loggers": {
        "django.security.DisallowedHost": {"handlers": [], "propagate": False},
        "django": {"handlers": ["terminal"], "level": "ERROR", "propagate": False},
    },
}
