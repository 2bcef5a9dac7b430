"""Django's settings, made of what the administrator gives (`api.environment`)."""

import os
import sys
import warnings
from pathlib import Path
from urllib.parse import urlsplit

import dj_database_url
from django.core.exceptions import ImproperlyConfigured

from api.edge.log_settings import log_settings
from api.environment import ENVIRONMENT as GIVEN

BASE_DIR = Path(__file__).resolve().parent.parent
DEVELOPMENT_SECRET_KEY = "development-only-never-use-this-key-where-others-can-reach-the-service"


SHORT_QUERIES = "-c jit=off -c max_parallel_workers_per_gather=0 -c random_page_cost=1.1"
"""A large estimate made PostgreSQL compile a shortlist for 4 s that then ran in 0.3 s; two workers more gained less than they cost.

What the answers read is in memory or on solid-state drives, for which PostgreSQL's manual (20.7.2) names this page cost. In a group of a
million items substitutes took an eighth less of the processor with it than with the 4 of old disks, which reads a small table whole
rather than look up a few of its rows. `options` in the address, or PGOPTIONS, overrule it.
"""


def database(url: str, name: str = "DATABASE_URL") -> dict[str, object]:
    """Connection settings for a database URL; SQLite takes its write lock at once, so that the loser of a race waits."""
    try:
        config = dict(dj_database_url.parse(url, conn_max_age=60, conn_health_checks=True))
    except (ValueError, KeyError) as error:
        raise ImproperlyConfigured(f"{name} is not a database address: {error}") from error
    engine = str(config.get("ENGINE", ""))
    if engine.endswith("sqlite3"):
        config["OPTIONS"] = {
            "transaction_mode": "IMMEDIATE",
            "timeout": 30,
            "init_command": "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;PRAGMA foreign_keys=ON;",
        }
        config["TEST"] = {"NAME": None}
    elif not engine.endswith("postgresql"):
        raise ImproperlyConfigured(f"{name} must begin with sqlite:// or postgresql://.")
    else:
        given: dict[str, object] = dict(config.get("OPTIONS") or {})  # type: ignore[call-overload]
        if GIVEN["PREPARED_STATEMENTS"]:
            given = {"prepare_threshold": 5} | given
        # A connection that names its options no longer reads PGOPTIONS.
        more = given.get("options") or os.environ.get("PGOPTIONS", "")
        config["OPTIONS"] = given | {"options": f"{SHORT_QUERIES} {more}".strip()}
    return config


def replica(url: str) -> dict[str, object]:
    """A replica answers soon or is left out, and takes no writes even after it was promoted."""
    config = database(url, "DATABASE_REPLICA_URL")
    options: dict[str, object] = {"connect_timeout": 2} | dict(config.get("OPTIONS") or {})  # type: ignore[call-overload]
    options["options"] = f"{options.get('options', '')} -c default_transaction_read_only=on".strip()
    config |= {"OPTIONS": options, "TEST": {"MIRROR": "default"}}
    config["CONN_HEALTH_CHECKS"] = False  # It is asked where it stands before each request.
    return config


DEBUG = GIVEN["DEBUG"]
PRODUCTION = GIVEN["PRODUCTION"]
SECRET_KEY = GIVEN["SECRET_KEY"] or DEVELOPMENT_SECRET_KEY
SECRET_KEY_FALLBACKS = GIVEN["SECRET_KEY_FALLBACKS"]
if PRODUCTION and (SECRET_KEY == DEVELOPMENT_SECRET_KEY or DEBUG):
    raise ImproperlyConfigured(
        "In production SECRET_KEY must be set to a secret of your own and DEBUG must be off."
    )
if PRODUCTION and len(SECRET_KEY) < 50:
    raise ImproperlyConfigured("In production SECRET_KEY must have at least 50 characters.")

PUBLIC_URL = GIVEN["PUBLIC_URL"]
ALLOWED_HOSTS = GIVEN["ALLOWED_HOSTS"]
CSRF_TRUSTED_ORIGINS = GIVEN["CSRF_TRUSTED_ORIGINS"]
if PUBLIC_URL:
    ALLOWED_HOSTS = [str(urlsplit(PUBLIC_URL).hostname), *ALLOWED_HOSTS]
    CSRF_TRUSTED_ORIGINS = [PUBLIC_URL, *CSRF_TRUSTED_ORIGINS]
# A checkout keeps its file beside it, an installed package in the folder it is started in.
IS_CHECKOUT = (BASE_DIR / "manage.py").exists()
HOME = BASE_DIR if IS_CHECKOUT else Path.cwd()
PYTHON = ".venv/bin/python" if (BASE_DIR / ".venv").exists() else "python"
PROGRAM = f"{PYTHON} manage.py" if IS_CHECKOUT else "chain-drive-spares"
"""What stands before a command where a text names one to type."""
DATABASES = {"default": database(GIVEN["DATABASE_URL"] or f"sqlite:///{HOME / 'plant.sqlite3'}")}
# One or several addresses, separated by spaces, of streaming replicas of the primary in DATABASE_URL.
_replicas = GIVEN["DATABASE_REPLICA_URL"]
REPLICAS = [f"replica{number}" for number in range(1, len(_replicas) + 1)]
DATABASES |= {name: replica(url) for name, url in zip(REPLICAS, _replicas, strict=True)}
if REPLICAS and any(not str(one["ENGINE"]).endswith("postgresql") for one in DATABASES.values()):
    raise ImproperlyConfigured("DATABASE_REPLICA_URL needs PostgreSQL there and in DATABASE_URL.")
REPLICA_LAG_SECONDS = GIVEN["REPLICA_LAG_SECONDS"]
DATABASE_ROUTERS = ["api.edge.reading.ReplicaRouter"] if REPLICAS else []
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

INSTALLED_APPS = [
    "api.apps.PlantAdminConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "rest_framework",
    "django_filters",
    "drf_spectacular",
    "csp",
    "inventory",
    "drives",
    "api",
]

MIDDLEWARE = [
    "api.operations.metrics.CountingMiddleware",
    "api.edge.caller_address.CallerAddressMiddleware",
    "api.edge.middleware.RequestIdMiddleware",
    "api.edge.slow_requests.SlowRequestMiddleware",
    "api.edge.middleware.PrivateResponseMiddleware",
    "api.edge.body_limits.BodyLimitMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "api.edge.units.UnitsMiddleware",
    "api.edge.middleware.SlashMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "api.edge.scope.CallerMiddleware",
    "api.screens.page_time.PageTimeMiddleware",
    "api.edge.logins.LoginWaitMiddleware",
    "api.screens.unavailable_pages.UnavailablePageMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]

if REPLICAS:
    MIDDLEWARE.insert(3, "api.edge.reading.ReadingMiddleware")

ROOT_URLCONF = "api.urls"
WSGI_APPLICATION = "api.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "DIRS": [BASE_DIR / "api" / "screens" / "templates"],
        "OPTIONS": {
            "libraries": {
                "chart_tags": "api.screens.charts.chart_tags",
                "counter_tags": "api.screens.counter.counter_tags",
                "page_filters": "api.screens.page_filters",
                "planning_tags": "api.screens.planning.planning_tags",
            },
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    }
]

PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 8}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
AUTHENTICATION_BACKENDS = ["api.edge.auth.PlantBackend"]
LOGIN_URL = "/login/"
LOGIN_REDIRECT_URL = "/"

LANGUAGE_CODE = "en-gb"
LANGUAGES = [("en", "English"), ("de", "Deutsch"), ("es", "Español")]
LOCALE_PATHS = [BASE_DIR / "api" / "locale"]
FORMAT_MODULE_PATH = "api.wording.formats"
LANGUAGE_COOKIE_NAME = "language"
LANGUAGE_COOKIE_AGE = 60 * 60 * 24 * 365
LANGUAGE_COOKIE_SECURE = PRODUCTION
TIME_ZONE = GIVEN["TIME_ZONE"]
USE_I18N = True
USE_TZ = True

STATIC_URL = "/static/"
# Served from the checkout too, without a build step before the first start.
WHITENOISE_USE_FINDERS = True
warnings.filterwarnings("ignore", message="No directory at", category=UserWarning)
STATIC_ROOT = HOME / ".static"
# Hashed names need the files collected, which the server does as it starts; until then they have their own.
IS_COLLECTED = "collectstatic" in sys.argv or (STATIC_ROOT / "staticfiles.json").is_file()
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
        if PRODUCTION and IS_COLLECTED
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}
STATICFILES_DIRS = [BASE_DIR / "api" / "screens" / "static"]

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'none'"],
        "script-src": ["'self'"],
        "style-src": ["'self'"],
        "img-src": ["'self'", "data:"],
        "font-src": ["'self'"],
        "connect-src": ["'self'"],
        "form-action": ["'self'"],
        "base-uri": ["'none'"],
        "frame-ancestors": ["'none'"],
    }
}
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = PRODUCTION
CSRF_COOKIE_HTTPONLY = True
DEVICE_COOKIE_NAME = "device"
if PRODUCTION:  # A browser takes these names over TLS alone, for this host alone.
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-sessionid", "__Host-csrftoken"
    DEVICE_COOKIE_NAME = "__Host-device"
SESSION_COOKIE_AGE = 60 * 60 * GIVEN["SESSION_HOURS"]
SECURE_SSL_REDIRECT = PRODUCTION if GIVEN["SSL_REDIRECT"] is None else GIVEN["SSL_REDIRECT"]
SECURE_REDIRECT_EXEMPT = [r"^healthz$", r"^readyz$", r"^metrics$"]
# Only behind a proxy that always sets or strips the header itself.
if GIVEN["BEHIND_TLS_PROXY"]:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
HOUR = 60 * 60
SECURE_HSTS_SECONDS = HOUR * PRODUCTION if GIVEN["HSTS_SECONDS"] is None else GIVEN["HSTS_SECONDS"]
SECURE_HSTS_INCLUDE_SUBDOMAINS = GIVEN["HSTS_INCLUDE_SUBDOMAINS"]
SECURE_HSTS_PRELOAD = GIVEN["HSTS_PRELOAD"]
# Whether other names of the domain, and a list that browsers carry, are bound too is the administrator's decision.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]

OIDC_RP_CLIENT_ID, OIDC_RP_CLIENT_SECRET = GIVEN["OIDC_CLIENT_ID"], GIVEN["OIDC_CLIENT_SECRET"]
OIDC_OP_AUTHORIZATION_ENDPOINT, OIDC_OP_TOKEN_ENDPOINT = (
    GIVEN["OIDC_AUTHORIZATION_URL"],
    GIVEN["OIDC_TOKEN_URL"],
)
OIDC_OP_USER_ENDPOINT, OIDC_OP_JWKS_ENDPOINT = GIVEN["OIDC_USER_URL"], GIVEN["OIDC_KEYS_URL"]
OIDC_RP_SIGN_ALGO = "RS256"
OIDC_RP_SCOPES = "openid profile email"
OIDC_TIMEOUT = 10
OIDC_NAME_CLAIM, OIDC_ROLES_CLAIM = GIVEN["OIDC_NAME_CLAIM"], GIVEN["OIDC_ROLES_CLAIM"]
LOGIN_REDIRECT_URL_FAILURE = "/login/"
if OIDC_RP_CLIENT_ID:
    if not all(
        (OIDC_OP_AUTHORIZATION_ENDPOINT, OIDC_OP_TOKEN_ENDPOINT, OIDC_OP_USER_ENDPOINT, OIDC_OP_JWKS_ENDPOINT)
    ):
        raise ImproperlyConfigured(
            "OIDC_CLIENT_ID needs OIDC_AUTHORIZATION_URL, OIDC_TOKEN_URL, OIDC_USER_URL and OIDC_KEYS_URL."
        )
    AUTHENTICATION_BACKENDS.append("api.edge.single_sign_on.CompanyBackend")

TRUSTED_USER_HEADER, TRUSTED_ROLES_HEADER = GIVEN["TRUSTED_USER_HEADER"], GIVEN["TRUSTED_ROLES_HEADER"]
if TRUSTED_USER_HEADER:
    if not GIVEN["TRUSTED_PROXIES"]:
        raise ImproperlyConfigured(
            "TRUSTED_USER_HEADER needs TRUSTED_PROXIES: the header is believed from there alone."
        )
    after_user = MIDDLEWARE.index("django.contrib.auth.middleware.AuthenticationMiddleware") + 1
    MIDDLEWARE.insert(after_user, "api.edge.single_sign_on.TrustedUserMiddleware")

EMAIL_HOST, EMAIL_PORT = GIVEN["MAIL_HOST"], GIVEN["MAIL_PORT"]
EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = GIVEN["MAIL_USER"], GIVEN["MAIL_PASSWORD"]
EMAIL_USE_TLS, EMAIL_USE_SSL = GIVEN["MAIL_SECURITY"] == "starttls", GIVEN["MAIL_SECURITY"] == "tls"
EMAIL_TIMEOUT = 10
DEFAULT_FROM_EMAIL = GIVEN["MAIL_FROM"]
PASSWORD_RESET_TIMEOUT = 24 * HOUR

DATA_UPLOAD_MAX_MEMORY_SIZE = GIVEN["MAX_BODY_BYTES"]
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2_000

# Where events may be sent. What lies inside is opened here, by host or network, and not by those who subscribe.
WEBHOOK_ALLOWED_HOSTS = GIVEN["WEBHOOK_ALLOWED_HOSTS"]
WEBHOOK_ALLOW_HTTP = GIVEN["WEBHOOK_ALLOW_HTTP"]
WEBHOOK_PORTS = GIVEN["WEBHOOK_PORTS"] or ([443, 8443, 80, 8080] if WEBHOOK_ALLOW_HTTP else [443, 8443])
# Certificates of an authority of the plant's own, beside those that the machine trusts.
WEBHOOK_CA_FILE = GIVEN["WEBHOOK_CA_FILE"]
WEBHOOK_TIMEOUT_SECONDS = GIVEN["WEBHOOK_TIMEOUT_SECONDS"]
EVENTS_KEPT_DAYS = GIVEN["EVENTS_KEPT_DAYS"]
# How many months a partition of the ledger and of the change log holds, on PostgreSQL: few partitions suit questions that name
# no time, as each is planned for; a group whose ledger grows by millions a year takes 12.
PARTITION_MONTHS = int(GIVEN["PARTITION_MONTHS"])
# The hour of the local day (TIME_ZONE) from which the nightly work is due.
NIGHTLY_HOUR = GIVEN["NIGHTLY_HOUR"]

# A scheduler in a thread of the web process, for a single process; in production `run_scheduler` runs beside it.
SCHEDULER_INSIDE = GIVEN["SCHEDULER_INSIDE"]

REQUESTS_PER_MINUTE = GIVEN["REQUESTS_PER_MINUTE"]
SEARCHES_PER_MINUTE = GIVEN["SEARCHES_PER_MINUTE"]
SEARCHES_AT_ONCE = GIVEN["SEARCHES_AT_ONCE"]
# With several processes the requests of a caller are counted in the database.
WEB_CONCURRENCY = GIVEN["WEB_CONCURRENCY"]

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "api.edge.auth.TokenAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["api.edge.auth.RolePermission"],
    "DEFAULT_THROTTLE_CLASSES": [
        "api.edge.throttling.CallerThrottle",
        "api.edge.throttling.SearchThrottle",
        "api.edge.throttling.AtOnceThrottle",
    ],
    "DEFAULT_PARSER_CLASSES": ["api.edge.parsing.StrictJSONParser"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_FILTER_BACKENDS": ["api.edge.filtering.StrictFilterBackend"],
    "DEFAULT_PAGINATION_CLASS": "api.edge.pagination.KeysetPagination",
    "DEFAULT_SCHEMA_CLASS": "api.edge.schema.ResourceSchema",
    "EXCEPTION_HANDLER": "api.edge.errors.problem_handler",
    "NUM_PROXIES": 0,
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Chain drive spares",
    "DESCRIPTION": (BASE_DIR / "api" / "edge" / "contract.md").read_text(encoding="utf-8"),
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    "SCHEMA_PATH_PREFIX": r"/api/v1/",
    "COMPONENT_SPLIT_REQUEST": True,
    "ENUM_GENERATE_CHOICE_DESCRIPTION": False,
    "POSTPROCESSING_HOOKS": [
        "api.wire.fact_codes.document_codes",
        "api.wire.event_types.document_events",
        "api.edge.openapi.document.complete",
    ],
}

TRUSTED_PROXIES = GIVEN["TRUSTED_PROXIES"]
METRICS_TOKEN = GIVEN["METRICS_TOKEN"]

# A request that takes longer is logged with what it read; 0 logs none.
SLOW_REQUEST_MS = GIVEN["SLOW_REQUEST_MS"]
LOGGING = log_settings(GIVEN["LOG_FORMAT"], GIVEN["LOG_LEVEL"], names_requests=GIVEN["ACCESS_LOG"])
