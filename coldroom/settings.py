"""Settings of the Django project. Every switch a farm may set is read through coldroom.env."""

from pathlib import Path

import dj_database_url

from coldroom import env
from coldroom.restored import finish_restore
from coldroom.version import running_version

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = env.data_folder()
VERSION = running_version(BASE_DIR)
# Before anything of the folder is read.
finish_restore(DATA_DIR)

SECRET_KEY = env.secret_key(DATA_DIR)
DEBUG = env.flag("COLDROOM_DEBUG")
HTTPS = env.flag("COLDROOM_HTTPS")

# Where `start` serves, plainly and with the farm's own certificate.
HTTP_PORT = env.number("COLDROOM_PORT", 8000)
HTTPS_PORT = env.number("COLDROOM_HTTPS_PORT", 8443)

# Which names are ours is decided by inventory.middleware.LocalHostsMiddleware: a farm's laptop
# changes its address with every router, and Django's list cannot say "any private address".
ALLOWED_HOSTS = ["*"]
EXTRA_HOSTS = env.words("COLDROOM_HOSTS")
CSRF_TRUSTED_ORIGINS = [f"https://{host}" for host in EXTRA_HOSTS]

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.staticfiles",
    "django_htmx",
    "template_partials",
    "inventory",
]

MIDDLEWARE = [
    "inventory.middleware.LocalHostsMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.middleware.gzip.GZipMiddleware",
    "inventory.middleware.ContentPolicyMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "inventory.middleware.FarmMiddleware",
]

ROOT_URLCONF = "coldroom.urls"
WSGI_APPLICATION = "coldroom.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "inventory.views.chrome.page_frame",
            ],
        },
    }
]

DATABASES = {
    "default": dj_database_url.parse(
        env.text("DATABASE_URL", f"sqlite:///{DATA_DIR / 'coldroom.sqlite3'}"), conn_max_age=60
    )
}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["ENGINE"] = "coldroom.sqlite3"
    # A read that turns into a write is refused at once under deferred transactions, whatever
    # the timeout; FULL survives a power cut.
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;",
    }
else:
    DATABASES["default"]["CONN_HEALTH_CHECKS"] = True

DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "inventory.Person"
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "sign-in"

# A farm's phone stays signed in for the season.
SESSION_COOKIE_AGE = 270 * 24 * 3600
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = HTTPS or env.flag("COLDROOM_OWN_HTTPS")
PHONE_COOKIE = "phone"
if env.flag("COLDROOM_OWN_HTTPS"):
    # Plain HTTP is served beside it under the same name, and could not set a cookie that HTTPS
    # had set. The prefix keeps it from setting these (RFC 6265bis, 4.1.3.2).
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-sessionid", "__Host-csrftoken"
    PHONE_COOKIE = "__Host-phone"
CSRF_FAILURE_VIEW = "inventory.views.errors.stale_form"
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if HTTPS else None
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if HTTPS else 0
X_FRAME_OPTIONS = "DENY"
DATA_UPLOAD_MAX_MEMORY_SIZE = 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000

LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("es", "Español")]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "coldroom.static.HashedStorage"},
}

# A second folder for the nightly copies, on another disk.
COPIES_TO = env.text("COLDROOM_COPIES_TO")

# Rooms out of range, sensors gone silent and the like are mailed to these.
ALARM_MAIL_TO = env.words("COLDROOM_ALARM_MAIL")
EMAIL_HOST = env.text("COLDROOM_MAIL_HOST")
EMAIL_PORT = env.number("COLDROOM_MAIL_PORT", 587)
EMAIL_HOST_USER = env.text("COLDROOM_MAIL_USER")
EMAIL_HOST_PASSWORD = env.text("COLDROOM_MAIL_PASSWORD")
EMAIL_USE_SSL, EMAIL_USE_TLS = env.mail_security(EMAIL_PORT, EMAIL_HOST_PASSWORD)
EMAIL_TIMEOUT = 10
DEFAULT_FROM_EMAIL = EMAIL_HOST_USER or "coldroom@localhost"

# From this hour of the farm's day on a daily check that nobody made is missed.
CHECK_HOUR = env.hour("COLDROOM_CHECK_HOUR", 20)

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"timed": {"format": "{asctime} {levelname} {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "timed"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
