"""What each kind of problem means and what to do about it; its page has the address that `type` names."""

from dataclasses import dataclass

from api.edge.errors import KINDS

EXPLAINED: dict[int, tuple[str, str]] = {
    400: (
        "The body, a member or a query parameter is not what the address takes. Unknown members and parameters are refused too, "
        "so that a mistyped filter never returns a whole list. `errors` names every one that is wrong, with a JSON pointer.",
        "Correct what `errors` names and send it again. The same idempotency key may be used, as nothing was done.",
    ),
    401: (
        "No token was sent, or it is unknown, expired or revoked.",
        "Send `Authorization: Bearer TOKEN`. An administrator makes a token on `/account/tokens/`.",
    ),
    403: (
        "The record may be seen, but the role or the scopes of these credentials do not allow this act.",
        "Use credentials with the role that the act needs, or ask a manager to do it.",
    ),
    404: (
        "Nothing has this address, or what has it lies outside the plants and storerooms of these credentials: the two are not "
        "told apart.",
        "Look at the address: it ends with a slash, and a slash inside a key is written %2F. Then look at what the token is limited to.",
    ),
    405: ("The address exists and does not take this method.", "Use one of the methods that `Allow` names."),
    406: (
        "The answer cannot be given in any form that `Accept` or `format` names.",
        "Ask for `application/json`. Lists also come as `text/csv` and as a workbook.",
    ),
    409: (
        "The request is sound, and the present state does not allow it: too little stock, a reservation of another job, a record in "
        "use, a number that is taken. `code` and `values` say which; nothing was changed.",
        "`remedies` are requests that resolve it, ready to send with a new key; `blockers` name what stands in the way. Where another "
        "request with the same key still runs, wait for its answer.",
    ),
    412: (
        "The `If-Match` of the request names an older version: somebody changed the record meanwhile.",
        "Read the record again, make the change to what it is now, and send it with the new ETag.",
    ),
    413: ("The body is larger than this service reads.", "Divide it; files go to `imports/`."),
    415: (
        "The body has a content type that this address does not read.",
        "Send `application/json`, for PATCH also `application/merge-patch+json`.",
    ),
    422: (
        "This idempotency key was used before, for another request.",
        "Use a new key for a new request, and the old one only to send the very same request again.",
    ),
    428: (
        "A change names the version that it was made from, so that no change of another caller is lost.",
        "Read the record, and send its `ETag` as `If-Match`.",
    ),
    429: (
        "More requests in this minute, or more costly ones at once, than one caller may send.",
        "Wait the seconds that `Retry-After` names. `RateLimit` says beforehand what is left.",
    ),
    500: (
        "The service has a fault. It was recorded; nothing of the request was done.",
        "Report it with the `request_id`. A request that moves stock may be sent again with its key.",
    ),
    503: (
        "The database cannot be reached, is too busy, takes no changes, or a calculation failed.",
        "Send it again after the seconds that `Retry-After` names, with the same idempotency key.",
    ),
}


@dataclass(frozen=True)
class Problem:
    slug: str
    status: int
    title: str
    meaning: str
    what_to_do: str

    def as_json(self) -> dict[str, object]:
        return {
            "type": f"/problems/{self.slug}",
            "status": self.status,
            "title": self.title,
            "meaning": self.meaning,
            "what_to_do": self.what_to_do,
        }


PROBLEMS = tuple(Problem(slug, status, title, *EXPLAINED[status]) for status, (slug, title) in KINDS.items())


def find(slug: str) -> Problem | None:
    return next((one for one in PROBLEMS if one.slug == slug), None)
