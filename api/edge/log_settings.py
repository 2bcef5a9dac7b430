"""Where lines of the log go and in which form: those of the service, of Django and of the server that runs it."""

from typing import Any


def log_settings(form: str, level: str, *, names_requests: bool) -> dict[str, Any]:
    """`form`: text or json. For `logging.config.dictConfig`."""
    own_level = {"handlers": ["console"], "level": "INFO", "propagate": False}
    # The server writes its line of each request wherever it is given these settings; only the level stops it.
    of_requests = own_level | {"level": "INFO" if names_requests else "WARNING"}
    return {
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
        "filters": {"refusals": {"()": "api.edge.log_lines.RefusalsInOneLine"}},
        "handlers": {
            "console": {"class": "logging.StreamHandler", "formatter": form, "filters": ["refusals"]}
        },
        "loggers": {
            "django.server": own_level,
            "gunicorn.error": own_level,
            "gunicorn.access": of_requests,
        },
        "root": {"handlers": ["console"], "level": level},
    }
