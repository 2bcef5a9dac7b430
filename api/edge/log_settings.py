"""Where lines of the log go and in which form: those of the service, of Django and of the server that runs it."""

from typing import Any


def log_settings(form: str, level: str) -> dict[str, Any]:
    """`form`: text or json. For `logging.config.dictConfig`."""
    own_level = {"handlers": ["console"], "level": "INFO", "propagate": False}
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
        "loggers": dict.fromkeys(("django.server", "gunicorn.error", "gunicorn.access"), own_level),
        "root": {"handlers": ["console"], "level": level},
    }
