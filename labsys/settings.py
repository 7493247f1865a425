"""Every decision about how the site runs, in one file; what differs between places comes from env.py.

No logic beyond choosing between the embedded and the grown-up form; nothing here imports a topic.
"""

from __future__ import annotations

from typing import Any

from labsys import env, logs, services

ENV = env.read()
VAR = ENV["LABSYS_VAR"]
# What the assets command builds (fonts) and the static files' finder looks through.
ASSETS_DIR = VAR / "assets"
for _folder in ("files", "mail", "broker", "clock", "static", "assets"):
    (VAR / _folder).mkdir(parents=True, exist_ok=True)

# Who may ask, and how safely
SECRET_KEY = ENV["LABSYS_SECRET_KEY"] or services.kept_secret(VAR / "secret-key")
DEBUG = ENV["LABSYS_DEBUG"]
SITE_URL = ENV["LABSYS_URL"]
ALLOWED_HOSTS = [*ENV["LABSYS_HOSTS"], services.host(SITE_URL)]
CSRF_TRUSTED_ORIGINS = [SITE_URL]
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = SITE_URL.startswith("https://")
METRICS_KEY = ENV["LABSYS_METRICS_KEY"]
SECURE_REDIRECT_EXEMPT = [r"^health/", r"^metrics$"]
SECURE_HSTS_SECONDS = 31_536_000 if SESSION_COOKIE_SECURE else 0
# Behind a proxy, its word on https and on the address that failed log-ins are counted by is the one to trust.
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if ENV["LABSYS_PROXY"] else None
ALLAUTH_TRUSTED_PROXY_COUNT = int(ENV["LABSYS_PROXY"])
# Nothing inline, nothing from elsewhere: what a page needs comes from this host in files of its own.
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'none'"],
        **dict.fromkeys(("script-src", "style-src", "font-src", "connect-src"), ["'self'"]),
        **dict.fromkeys(("worker-src", "manifest-src", "form-action"), ["'self'"]),
        "img-src": ["'self'", "data:"],
        "base-uri": ["'none'"],
        "frame-ancestors": ["'none'"],
    }
}

# What the site is made of
INSTALLED_APPS = [
    "instruments.apps.InstrumentsConfig",
    "standards.apps.StandardsConfig",
    "labsys.apps.LabsysConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.humanize",
    "django.contrib.staticfiles",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.usersessions",
    "rest_framework",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "django_filters",
    "django_htmx",
    "csp",
    "django.forms",
]
MIDDLEWARE = [
    "labsys.middleware.RequestId",
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "labsys.pages.middleware.LoginInPlace",
    "labsys.pages.middleware.Refusals",
]
# Our own, in the order in which one stands on the other.
OWN_APPS = ("labsys", "standards", "instruments")
ROOT_URLCONF = "labsys.urls"
PROCESSES = ENV["LABSYS_PROCESSES"]
TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "labsys.pages.context.places",
            ],
        },
    }
]
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

# Where records are kept
# IMMEDIATE: a deferred transaction that reads and then writes fails at once when another one wrote in between.
# FULL: an acknowledged reading survives a power cut.
_sqlite: dict[str, Any] = {
    "ENGINE": "django.db.backends.sqlite3",
    "NAME": VAR / "labsys.sqlite3",
    "OPTIONS": {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON; "
        "PRAGMA cache_size=-20000; PRAGMA temp_store=MEMORY; PRAGMA journal_size_limit=27103364;",
    },
}
DATABASES: dict[str, dict[str, Any]] = {"default": services.database(ENV["DATABASE_URL"], sqlite=_sqlite)}
MEDIA_ROOT = VAR / "files"
CACHES = {"default": services.cache(ENV["REDIS_URL"])}

# Who a person is
AUTH_USER_MODEL = "labsys.Person"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
# Length alone: rules of composition make people write passwords down.
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "/"
ACCOUNT_LOGIN_METHODS = {"username"}
# People are entered by the laboratory; nobody signs up.
ACCOUNT_ADAPTER = "labsys.accounts.adapter.AccountAdapter"
ACCOUNT_EMAIL_VERIFICATION = "none"
# A tablet passes through many hands: a sign-in lasts one shift and ends with the browser, and nobody is asked.
ACCOUNT_SESSION_REMEMBER = False
SESSION_COOKIE_AGE = 12 * 3600
# A signature rests on the password, and mailboxes are read by several: a way in is handed over in person, for a day.
PASSWORD_RESET_TIMEOUT = 24 * 3600

# Words, dates, pages
USE_I18N = False
TIME_ZONE = "UTC"
LAB_ZONE = ENV["LABSYS_ZONE"]
STATIC_URL = "static/"
STATIC_ROOT = VAR / "static"
STATICFILES_DIRS = [ASSETS_DIR]
# Plain names and files found in place: nothing has to be collected before a first start.
WHITENOISE_USE_FINDERS = True

# Other programs
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "labsys.accounts.api.TokenAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_FILTER_BACKENDS": ["django_filters.rest_framework.DjangoFilterBackend"],
    "DEFAULT_SCHEMA_CLASS": "labsys.api.schema.Schema",
    "EXCEPTION_HANDLER": "labsys.api.errors.handle",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "labsys",
    "DESCRIPTION": "Records of a dimensional calibration laboratory.",
    "VERSION": "1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.IsAuthenticated"],
    "SCHEMA_PATH_PREFIX": "/api/v1/",
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "REDOC_DIST": "SIDECAR",
}

# Work in the background: the broker only wakes people, the database says what is owed (labsys/jobs).
CELERY = services.celery(ENV["REDIS_URL"], VAR)
DEFAULT_FROM_EMAIL = ENV["LABSYS_MAIL_FROM"]
_mail = services.mail(ENV["SMTP_URL"], folder=VAR / "mail")
EMAIL_BACKEND, EMAIL_FILE_PATH = _mail.backend, _mail.folder
EMAIL_HOST, EMAIL_PORT = _mail.host, _mail.port
EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = _mail.user, _mail.password
EMAIL_USE_TLS, EMAIL_USE_SSL = _mail.starttls, _mail.tls
EMAIL_TIMEOUT = 20
LOGGING = logs.configuration(ENV["LABSYS_LOG_FORMAT"], ENV["LABSYS_LOG_LEVEL"])
