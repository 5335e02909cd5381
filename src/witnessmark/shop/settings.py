"""Django settings. What differs between installations comes from the environment:

WITNESSMARK_HOME        folder for database, photos and secret key (``var``)
DATABASE_URL            another database: ``postgresql://user@host/name``
WITNESSMARK_SECRET_KEY  in place of the generated key
WITNESSMARK_HOSTS       names the pages are served under, with commas (this machine only)
WITNESSMARK_HTTPS       ``1`` where pages come over TLS: cookies are then never sent without it
WITNESSMARK_DEBUG       ``1`` for developers only
"""

import os
from datetime import timedelta
from pathlib import Path
from typing import Any

import dj_database_url
from csp.constants import NONE, SELF

from witnessmark.shop.home import home, secret_key

PACKAGE = Path(__file__).parent
HOME = home()
SECRET_KEY = secret_key(HOME)
DEBUG = os.environ.get("WITNESSMARK_DEBUG") == "1"
HTTPS = os.environ.get("WITNESSMARK_HTTPS") == "1"
ALLOWED_HOSTS = os.environ.get("WITNESSMARK_HOSTS", "localhost,127.0.0.1,[::1]").split(",")
CSRF_TRUSTED_ORIGINS = [f"https://{h}" for h in ALLOWED_HOSTS if h != "*"] if HTTPS else []

INSTALLED_APPS = [
    "witnessmark.shop",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",  # templates of widgets
    "django_htmx",
    "csp",
    "axes",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "witnessmark.shop.pages.sign_in.sign_in_again.SignInAgainMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "witnessmark.shop.characters.CharactersMiddleware",
    "witnessmark.shop.scope.DeskMiddleware",
    "witnessmark.shop.receipts.ReceiptMiddleware",
]

ROOT_URLCONF = "witnessmark.shop.urls"
WSGI_APPLICATION = "witnessmark.shop.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [PACKAGE / "pages"],  # a template is named by its page: "bench/card.html"
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.messages.context_processors.messages",
                "witnessmark.shop.scope.in_every_template",
            ],
            "builtins": [
                "django.templatetags.i18n",
                "witnessmark.shop.templatetags.in_every_template",
            ],
        },
    }
]
FORM_RENDERER = "witnessmark.shop.forms.SheetRenderer"

# ---------------------------------------------------------------- database

# FULL: what the tablet was told is stored is on the disk, also after a power cut.
# recursive_triggers: else INSERT OR REPLACE deletes a kept row without asking its guard.
SQLITE_OPTIONS: dict[str, Any] = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 20,
    "init_command": (
        "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;"
        "PRAGMA foreign_keys=ON;PRAGMA recursive_triggers=ON;"
    ),
}


def database() -> dict[str, Any]:
    """The database that DATABASE_URL names, else SQLite in the home folder."""
    default = f"sqlite:///{HOME / 'witnessmark.sqlite3'}"
    chosen: dict[str, Any] = dict(dj_database_url.config(default=default))
    if chosen["ENGINE"].endswith("sqlite3"):
        chosen["OPTIONS"] = SQLITE_OPTIONS
    else:
        # Each thread keeps its connection: PostgreSQL starts a process for a new one. One that was closed meanwhile is
        # opened anew before it is used. A file is opened for each request: the one that lies there now, no moved one.
        chosen |= {"CONN_MAX_AGE": 600, "CONN_HEALTH_CHECKS": True}
    return chosen


DATABASES = {"default": database()}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
PHOTOS = HOME / "photos"
SOLVED = HOME / "solved"  # plans once solved; may be emptied at any time

# ---------------------------------------------------------------- people

LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "today"
LOGOUT_REDIRECT_URL = "sign-in"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",  # first: it refuses whoever tried too often
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = [  # the first for new ones; an older kind is written anew at its next sign-in
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
    "django.contrib.auth.hashers.ScryptPasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator"},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
    {"NAME": "witnessmark.shop.passwords.NotOfTheDemo"},
]
# Wrong passwords (witnessmark.shop.passwords says what is counted). Trying on does not prolong the wait,
# else a stranger could keep somebody out for ever.
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = timedelta(minutes=10)
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_LOCKOUT_PARAMETERS = "witnessmark.shop.passwords.counted_by"
AXES_USERNAME_CALLABLE = "witnessmark.shop.passwords.name_tried"
AXES_CLIENT_IP_CALLABLE = "witnessmark.shop.passwords.address_of"
AXES_ENABLE_ACCESS_FAILURE_LOG = True  # shown to the head of the shop
AXES_DISABLE_ACCESS_LOG = True
AXES_SENSITIVE_PARAMETERS = ["username", "ip_address", "typed"]
AXES_VERBOSE = False
# The form itself says how long to wait, with what was typed still in it: no middleware in its place.
SILENCED_SYSTEM_CHECKS = ["axes.W002"]
SESSION_COOKIE_AGE = 60 * 60 * 24 * 30
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = HTTPS
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "witnessmark.shop.pages.sign_in.views.stale_form"

# ---------------------------------------------------------------- safety of the pages

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "blob:"],  # blob: the preview of a photo not yet sent
        "connect-src": [SELF],
        "font-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
    }
}
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SECURE_SSL_REDIRECT = HTTPS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if HTTPS else None
SECURE_HSTS_SECONDS = 60 * 60 * 24 * 365 if HTTPS else 0
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024  # without files
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000

# ---------------------------------------------------------------- files, language, time

STATIC_URL = "/static/"
WHITENOISE_USE_FINDERS = True  # served from the package: nothing has to be collected first
LANGUAGE_CODE = "en"
USE_I18N = True
LANGUAGES = [
    ("en", "English"),
    ("de", "Deutsch"),
]  # an owner's papers come in one of these; pages in the first
LOCALE_PATHS = [Path(__file__).parent / "locale"]
USE_TZ = True
TIME_ZONE = "UTC"  # stored; each shop shows its own zone
FORMAT_MODULE_PATH = ["witnessmark.shop.formats"]

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s: %(message)s"}},
    "handlers": {"terminal": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["terminal"], "level": "WARNING"},
}
