"""How a drive is set after a sprocket was changed."""

from django.utils.translation import gettext_lazy as _

SENTENCES = {
    "slack_at_midspan": _(
        "Slack: {least_mm:.0mm} to {most_mm:.0mm} in all at mid-span (4 to 6 % of the centres); with upright centres or at high"
        " speed {upright_least_mm:.0mm} to {upright_most_mm:.0mm}."
    ),
    "slack_at_midspan_tighter": _(
        "Slack: {least_mm:.0mm} to {most_mm:.0mm} in all at mid-span (2 to 3 % of the centres: shock or reversing)."
    ),
    "slack_shares": _(
        "Slack: 4 to 6 % of the centre distance in all at mid-span; 2 to 3 % with shock, reversing, upright centres or high speed."
    ),
    "faces_in_line": _("Sprocket faces in line within {most_mm:mm} under a straight edge."),
    "faces_in_line_shares": _(
        "Sprocket faces in line within 1 mm under a straight edge; above 1 m of centres within a thousandth of them."
    ),
    "shafts_parallel": _("Shafts level and parallel within 1/300."),
}
