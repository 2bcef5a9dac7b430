"""Settings, read from the environment. A value that cannot be understood stops the start with a sentence."""

import ipaddress
import os
import warnings
from pathlib import Path

import dj_database_url
from django.core.exceptions import ImproperlyConfigured

BASE_DIR = Path(__file__).resolve().parent.parent
DEVELOPMENT_SECRET_KEY = "development-only-never-use-this-key-where-others-can-reach-the-service"


def text(name: str, default: str) -> str:
    return os.environ.get(name, "").strip() or default


def flag(name: str, default: bool) -> bool:
    value = text(name, "true" if default else "false").lower()
    if value not in {"true", "false", "1", "0", "yes", "no"}:
        raise ImproperlyConfigured(f"{name} must be true or false, not {value!r}.")
    return value in {"true", "1", "yes"}


def whole_number(name: str, default: int, *, at_least: int, at_most: int) -> int:
    value = text(name, str(default))
    if not value.isascii() or not value.isdigit() or not at_least <= int(value) <= at_most:
        raise ImproperlyConfigured(
            f"{name} must be a whole number from {at_least} to {at_most}, not {value!r}."
        )
    return int(value)


def one_of(name: str, default: str, known: set[str]) -> str:
    value = text(name, default)
    if value not in known:
        raise ImproperlyConfigured(f"{name} must be one of {', '.join(sorted(known))}, not {value!r}.")
    return value


def listed(name: str, default: str) -> list[str]:
    return [part.strip() for part in text(name, default).split(",") if part.strip()]


def hosts_or_networks(name: str) -> list[str]:
    """Names of hosts, and networks such as 10.20.0.0/16; one that is meant as a network must be one."""
    found = listed(name, "")
    for one in found:
        if "/" in one or ":" in one:
            try:
                ipaddress.ip_network(one)
            except ValueError as error:
                raise ImproperlyConfigured(f"{name} must list hosts and networks: {error}.") from error
    return found


def ports(name: str, default: str) -> list[int]:
    found = listed(name, default)
    if not all(one.isascii() and one.isdigit() and 1 <= int(one) <= 65_535 for one in found):
        raise ImproperlyConfigured(f"{name} must list port numbers, such as 443,8443.")
    return [int(one) for one in found]


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
        if flag("PREPARED_STATEMENTS", True):
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


DEBUG = flag("DEBUG", False)
PRODUCTION = flag("PRODUCTION", False)
SECRET_KEY = text("SECRET_KEY", DEVELOPMENT_SECRET_KEY)
if PRODUCTION and (SECRET_KEY == DEVELOPMENT_SECRET_KEY or DEBUG):
    raise ImproperlyConfigured(
        "In production SECRET_KEY must be set to a secret of your own and DEBUG must be off."
    )
if PRODUCTION and len(SECRET_KEY) < 50:
    raise ImproperlyConfigured("In production SECRET_KEY must have at least 50 characters.")

ALLOWED_HOSTS = listed("ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]")
CSRF_TRUSTED_ORIGINS = listed("CSRF_TRUSTED_ORIGINS", "")
DATABASES = {"default": database(text("DATABASE_URL", f"sqlite:///{BASE_DIR / 'plant.sqlite3'}"))}
# One or several addresses, separated by spaces, of streaming replicas of the primary in DATABASE_URL.
_replicas = text("DATABASE_REPLICA_URL", "").split()
REPLICAS = [f"replica{number}" for number in range(1, len(_replicas) + 1)]
DATABASES |= {name: replica(url) for name, url in zip(REPLICAS, _replicas, strict=True)}
if REPLICAS and any(not str(one["ENGINE"]).endswith("postgresql") for one in DATABASES.values()):
    raise ImproperlyConfigured("DATABASE_REPLICA_URL needs PostgreSQL there and in DATABASE_URL.")
REPLICA_LAG_SECONDS = whole_number("REPLICA_LAG_SECONDS", 5, at_least=1, at_most=3_600)
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
    "api.edge.logins.LoginWaitMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]

if REPLICAS:
    MIDDLEWARE.insert(1, "api.edge.reading.ReadingMiddleware")

ROOT_URLCONF = "api.urls"
WSGI_APPLICATION = "api.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "DIRS": [BASE_DIR / "api" / "screens" / "templates"],
        "OPTIONS": {
            "libraries": {
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
TIME_ZONE = text("TIME_ZONE", "UTC")
USE_I18N = True
USE_TZ = True

STATIC_URL = "/static/"
# Served from the checkout too, without a build step before the first start.
WHITENOISE_USE_FINDERS = True
warnings.filterwarnings("ignore", message="No directory at", category=UserWarning)
STATIC_ROOT = BASE_DIR / ".static"
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
if PRODUCTION:  # A browser takes these names over TLS alone, for this host alone.
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-sessionid", "__Host-csrftoken"
SESSION_COOKIE_AGE = 60 * 60 * whole_number("SESSION_HOURS", 14 * 24, at_least=1, at_most=8_760)
SECURE_SSL_REDIRECT = flag("SSL_REDIRECT", PRODUCTION)
SECURE_REDIRECT_EXEMPT = [r"^healthz$", r"^readyz$"]
# Only behind a proxy that always sets or strips the header itself.
if flag("BEHIND_TLS_PROXY", False):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_HSTS_SECONDS = 31_536_000 if PRODUCTION else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = PRODUCTION

DATA_UPLOAD_MAX_MEMORY_SIZE = whole_number(
    "MAX_BODY_BYTES", 10_000_000, at_least=10_000, at_most=1_000_000_000
)
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2_000

# Where events may be sent. What lies inside is opened here, by host or network, and not by those who subscribe.
WEBHOOK_ALLOWED_HOSTS = hosts_or_networks("WEBHOOK_ALLOWED_HOSTS")
WEBHOOK_ALLOW_HTTP = flag("WEBHOOK_ALLOW_HTTP", False)
WEBHOOK_PORTS = ports("WEBHOOK_PORTS", "443,8443,80,8080" if WEBHOOK_ALLOW_HTTP else "443,8443")
# Certificates of an authority of the plant's own, beside those that the machine trusts.
WEBHOOK_CA_FILE = text("WEBHOOK_CA_FILE", "")
WEBHOOK_TIMEOUT_SECONDS = whole_number("WEBHOOK_TIMEOUT_SECONDS", 20, at_least=1, at_most=60)
EVENTS_KEPT_DAYS = whole_number("EVENTS_KEPT_DAYS", 400, at_least=7, at_most=36_500)
# How many months a partition of the ledger and of the change log holds, on PostgreSQL: few partitions suit questions that name
# no time, as each is planned for; a group whose ledger grows by millions a year takes 12.
PARTITION_MONTHS = int(one_of("PARTITION_MONTHS", "60", {"1", "2", "3", "4", "6", "12", "24", "60"}))
# The hour of the local day (TIME_ZONE) from which the nightly work is due.
NIGHTLY_HOUR = whole_number("NIGHTLY_HOUR", 2, at_least=0, at_most=23)

# A scheduler in a thread of the web process, for a single process; in production `run_scheduler` runs beside it.
SCHEDULER_INSIDE = flag("SCHEDULER_INSIDE", False)

REQUESTS_PER_MINUTE = whole_number("REQUESTS_PER_MINUTE", 30_000, at_least=1, at_most=10_000_000)
SEARCHES_PER_MINUTE = whole_number("SEARCHES_PER_MINUTE", 3_000, at_least=1, at_most=10_000_000)
SEARCHES_AT_ONCE = whole_number("SEARCHES_AT_ONCE", 2, at_least=1, at_most=1_000)
# How many processes serve; the limits are shared out among them.
WEB_CONCURRENCY = whole_number("WEB_CONCURRENCY", 1, at_least=1, at_most=1_000)
CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}

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
        "api.edge.schema.document_problems",
        "api.wire.fact_codes.document_codes",
    ],
}

# A request that takes longer is logged with what it read; 0 logs none.
SLOW_REQUEST_MS = whole_number("SLOW_REQUEST_MS", 2_000, at_least=0, at_most=600_000)
LOG_FORMAT = one_of("LOG_FORMAT", "text", {"text", "json"})
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "text": {
            "()": "api.edge.log_lines.TextLines",
            "format": "{asctime} {levelname} {name}: {message}",
            "style": "{",
        },
        "json": {"()": "api.edge.log_lines.JsonLines"},
    },
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": LOG_FORMAT}},
    # The development server's own lines go the same way, through the same form.
    "loggers": {"django.server": {"handlers": ["console"], "level": "INFO", "propagate": False}},
    "root": {
        "handlers": ["console"],
        "level": one_of("LOG_LEVEL", "WARNING", {"DEBUG", "INFO", "WARNING", "ERROR", "CRITICAL"}),
    },
}
