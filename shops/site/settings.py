"""Django's settings. What differs between installations comes from `shops.site.environment`."""

from __future__ import annotations

from pathlib import Path

from csp.constants import NONE, SELF

from shops.site import environment

ROOT = Path(__file__).resolve().parents[2]
DATA = environment.data_folder(ROOT)

SECRET_KEY = environment.secret_key(DATA)
DEBUG = environment.flag("COILBOOK_DEBUG", default=False)
ALLOWED_HOSTS = environment.hosts("COILBOOK_HOSTS", default=["127.0.0.1", "localhost", "[::1]"])
HTTPS = environment.flag("COILBOOK_HTTPS", default=False)
PROXIES = environment.whole_number("COILBOOK_PROXIES", default=0, low=0, high=9)

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.staticfiles",
    "rest_framework",
    "drf_spectacular",
    "axes",
    "csp",
    "shops",
    "setups",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "shops.site.addresses.AddressMiddleware",
    "shops.site.headers.HeadersMiddleware",
    "csp.middleware.CSPMiddleware",
    "shops.site.compress.CompressFiles",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "shops.site.idle.IdleMiddleware",
    # Behind what ends a session: it asks who is signed in.
    "setups.web.readers_units.ReadersUnits",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "shops.site.urls"
APPEND_SLASH = False  # a redirect would lose the body of a change
WSGI_APPLICATION = "shops.site.wsgi.application"
TEMPLATES = [{"BACKEND": "django.template.backends.django.DjangoTemplates", "APP_DIRS": True, "OPTIONS": {}}]

DATABASES = environment.databases(DATA)
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "shops.Person"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "shops.sign_in.PersonBackend",
    "shops.sign_in.PinBackend",
]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ["name", "email"]},
    },
]
# Roles that must sign in with a second factor; whoever likes may.
SECOND_FACTOR_FOR = environment.some_of("COILBOOK_SECOND_FACTOR", among=("technician", "manager", "owner"))
# As `authenticate` is called with; under another name failures would be counted for nobody.
AXES_USERNAME_FORM_FIELD = "username"
AXES_FAILURE_LIMIT = 8
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_CALLABLE = "shops.sign_in.locked"
AXES_ENABLE_ADMIN = False

SESSION_COOKIE_AGE = 12 * 3600
IDLE_S = 60 * environment.whole_number("COILBOOK_IDLE_MINUTES", default=5, low=1, high=60)
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Strict"
CSRF_COOKIE_SAMESITE = "Strict"
CSRF_FAILURE_VIEW = "shops.site.pages.no_token"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = HTTPS
SECURE_HSTS_SECONDS = 31_536_000 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = HTTPS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if HTTPS else None
SECURE_REFERRER_POLICY = "no-referrer"
X_FRAME_OPTIONS = "DENY"
DATA_UPLOAD_MAX_MEMORY_SIZE = 262_144

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "font-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
    }
}

_MAIL = environment.mail()
EMAIL_BACKEND, DEFAULT_FROM_EMAIL = _MAIL.backend, _MAIL.sender
EMAIL_HOST, EMAIL_PORT = _MAIL.host, _MAIL.port
EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = _MAIL.user, _MAIL.password
EMAIL_USE_TLS, EMAIL_USE_SSL, EMAIL_TIMEOUT = _MAIL.tls, _MAIL.ssl, 10

LANGUAGE_CODE = "en"  # what the source is written in
LANGUAGES = [("en", "English"), ("de", "Deutsch")]
LOCALE_PATHS = [ROOT / "shops" / "locale"]
TIME_ZONE = "UTC"
USE_TZ = True
USE_I18N = True

STATIC_URL = "/static/"
STATICFILES_DIRS = [ROOT / "frontend"]
WHITENOISE_USE_FINDERS = True
WHITENOISE_ALLOW_ALL_ORIGINS = False

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["shops.web.sign_in.CookieAuthentication"],
    # A view that declares nothing refuses everybody.
    "DEFAULT_PERMISSION_CLASSES": ["shops.web.permissions.Undeclared"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["calc.web.parsers.StrictJSONParser"],
    "DEFAULT_SCHEMA_CLASS": "shops.web.schema.Schema",
    "DEFAULT_PAGINATION_CLASS": "shops.web.pages.Pages",
    "EXCEPTION_HANDLER": "shops.web.errors.answer",
    "UNAUTHENTICATED_USER": "django.contrib.auth.models.AnonymousUser",
    "DEFAULT_METADATA_CLASS": None,
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
    "TEST_REQUEST_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Coilbook",
    "DESCRIPTION": "The suspension technician's job card. Numbers are metric, the unit in the field's name.",
    "VERSION": "1",
    "SERVE_INCLUDE_SCHEMA": False,
    "COMPONENT_SPLIT_REQUEST": True,
    "POSTPROCESSING_HOOKS": [],
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
