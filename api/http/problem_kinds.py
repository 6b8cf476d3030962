"""What each kind of problem means and how it is mended: what `/problems/<kind>` answers (RFC 9457, section 3.1.1)."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ProblemKind:
    """A kind of problem: the statuses that it comes with, what it means, and what the sender does about it."""

    statuses: tuple[int, ...]
    means: str
    mend: str


_TRY_AGAIN = "Send the request again after the seconds of the answer's Retry-After."
_AS_ISSUED = "Tell the operator: the command `verify` says which documents differ from what was issued."
_WAIT = "Watch its events, or read it until its status is done; one that failed says why in `error`."

KINDS: dict[str, ProblemKind] = {
    "bad-request": ProblemKind(
        (400,), "The request is no sound HTTP.", "Correct what the detail names and send it again."
    ),
    "unusable-address": ProblemKind(
        (400,), "The address has a control character, which nothing here is named with.", "Leave it out."
    ),
    "unreadable-body": ProblemKind(
        (400,),
        "The body cannot be read as what it says it is.",
        "Check the JSON, the form or the workbook at the place that the detail names, and its Content-Type.",
    ),
    "unauthorised": ProblemKind(
        (401,),
        "The request has no API key, or one that is not known, was revoked or has expired.",
        "Send `Authorization: Bearer bo_...` with a key in force; an administrator makes one.",
    ),
    "forbidden": ProblemKind(
        (403,),
        "The key or the account may not do this, or the request came from another site's page.",
        "`needs` names the role: ask an administrator of your company for it.",
    ),
    "not-found": ProblemKind(
        (404,),
        "There is no such thing, or it belongs to another company.",
        "Look it up in its list, and check the address.",
    ),
    "method-not-allowed": ProblemKind(
        (405,), "The address does not take this method.", "The header Allow says which it takes."
    ),
    "has-ended": ProblemKind(
        (409,),
        "The job is done or failed, so it cannot be cancelled.",
        "Nothing needs doing: what it made is kept.",
    ),
    "plan-not-done": ProblemKind((409,), "The plan is not done yet, or has failed.", _WAIT),
    "refit-not-done": ProblemKind((409,), "The refit is not done yet, or has failed.", _WAIT),
    "comparison-not-done": ProblemKind((409,), "The comparison is not done yet, or has failed.", _WAIT),
    "allowance-not-done": ProblemKind((409,), "The simulation is not done yet, or has failed.", _WAIT),
    "frontier-not-done": ProblemKind((409,), "The frontier is not done yet, or has failed.", _WAIT),
    "scenario-not-done": ProblemKind((409,), "The scenarios are not compared yet, or that failed.", _WAIT),
    "issued-orders-in-doubt": ProblemKind(
        (409,),
        "The last check of the issued orders found something, and no order is issued until it is looked at.",
        "Tell the operator: the command `verify` lists what was found.",
    ),
    "not-the-last-issued": ProblemKind(
        (409,),
        "Another revision was issued meanwhile, so that this one would not follow the last.",
        "Read the project's orders, look at the newest, then issue again.",
    ),
    "not-what-was-issued": ProblemKind(
        (409,), "What is kept differs from what was issued, so it is not shown.", _AS_ISSUED
    ),
    "not-issued": ProblemKind(
        (409,), "The plan's order was not issued.", "Issue it first, or name the plan whose order was."
    ),
    "not-on-record": ProblemKind(
        (409,),
        "The plan was made from a record that lacks something that is ordered since.",
        "Plan the rest of the job again, then issue that plan.",
    ),
    "nothing-ordered": ProblemKind(
        (409,),
        "The plan orders nothing, and this form of the order cannot say so.",
        "Take another form, such as JSON or PDF.",
    ),
    "another-photograph": ProblemKind(
        (409,), "Another photograph is kept under this id.", "Give the new one an id of its own."
    ),
    "other-readings": ProblemKind(
        (409,), "Other readings are kept under this id.", "Give the new ones an id of their own."
    ),
    "orders-are-kept": ProblemKind(
        (409,),
        "Orders of the project were issued: they are records of purchase and stay.",
        "Keep the project. Once the time that your law asks for is over, the operator can remove it.",
    ),
    "work-in-hand": ProblemKind(
        (409,),
        "Jobs of the project are queued or running.",
        "Wait for them to end, or cancel them, then delete the project.",
    ),
    "broken-rules": ProblemKind(
        (409, 500),
        "The independent judge found that the plan breaks rules of its project; it is neither shown nor issued.",
        "Report it with its request id and `broken_rules`: the planner is at fault.",
    ),
    "precondition-failed": ProblemKind(
        (412,),
        "What the request replaces has changed since it was read.",
        "Read it again, look at what changed, and send the request with its new ETag.",
    ),
    "changed": ProblemKind(
        (412,),
        "Somebody kept a newer survey meanwhile.",
        "Look at the newer survey first, then upload yours again.",
    ),
    "precondition-required": ProblemKind(
        (428,),
        "The request replaces something, and does not say which version of it.",
        "Send If-Match with the ETag of the version that it replaces.",
    ),
    "content-too-large": ProblemKind(
        (413,),
        "The body is larger, or takes more to read, than this call is given.",
        "Send fewer or smaller tables, files or events at a time.",
    ),
    "unsupported-media-type": ProblemKind(
        (415,),
        "The body is of a kind that this call does not read.",
        "Send one of the kinds that the detail names, with its Content-Type.",
    ),
    "unusable-input": ProblemKind(
        (422,),
        "The body was read, and has faults.",
        "`errors` lists each with its place, its value and its mend: correct them all and send it again.",
    ),
    "idempotency-key-reused": ProblemKind(
        (422,),
        "This Idempotency-Key was sent with another request before.",
        "Give every new request a key of its own.",
    ),
    "cannot-be-planned": ProblemKind(
        (422,),
        "The project can be read, and no plan keeps its rules.",
        "The detail names what stands in the way: change that limit, rule or measurement.",
    ),
    "limit-reached": ProblemKind(
        (422,),
        "What was asked for needs more time or memory than it is given.",
        "Ask for less, such as fewer levels, at a time, or ask the operator for more.",
    ),
    "too-many-requests": ProblemKind(
        (429,),
        "Your company has sent, opened or kept as much as one may.",
        f"{_TRY_AGAIN} Close streams and cancel jobs that nobody needs.",
    ),
    "internal-error": ProblemKind(
        (500,),
        "Something went wrong here.",
        "Report it with its request id; the operator's log has the rest.",
    ),
    "busy": ProblemKind((503,), "No place came free in time.", _TRY_AGAIN),
    "not-ready": ProblemKind(
        (503,), "The service lacks something that it needs.", f"`lacks` names it. {_TRY_AGAIN}"
    ),
    "stopping": ProblemKind((503,), "This process of the service is stopping.", _TRY_AGAIN),
    "wrong-clock": ProblemKind(
        (503,),
        "The clock of this machine is behind the last order, or differs from the database's: no order is issued.",
        "Tell the operator, who sets the clock.",
    ),
    "identity-server-unreachable": ProblemKind(
        (503,), "The identity server that people sign in by does not answer.", _TRY_AGAIN
    ),
    "database-unreachable": ProblemKind((503,), "The database does not answer.", _TRY_AGAIN),
    "database-unusable": ProblemKind(
        (503,),
        "The database, or the anchor of its issued orders, cannot be used.",
        "Tell the operator, whose log says why.",
    ),
}
