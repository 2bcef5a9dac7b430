"""Every explanation of the page of help, in its groups."""

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from api.wording.term import Term
from api.wording.terms_figures import FIGURE_TERMS
from api.wording.terms_fit import CHECK_TERMS, GRADE_TERMS
from api.wording.terms_planning import PLANNING_TERMS
from api.wording.terms_stock import STOCK_TERMS

TERMS: list[tuple[str, str | Promise, list[Term]]] = [
    ("grades", _("Grades"), GRADE_TERMS),
    ("checks", _("Checks"), CHECK_TERMS),
    ("stock", _("Stock"), STOCK_TERMS),
    ("planning", _("Planning"), PLANNING_TERMS),
    ("figures", _("Figures"), FIGURE_TERMS),
]
"""Name of the group, its title and its terms."""
TERM_OF = {term.name: term for _name, _title, terms in TERMS for term in terms}
