"""Addresses of the pages."""

from django.contrib.auth.views import LogoutView, PasswordChangeDoneView, PasswordResetDoneView
from django.templatetags.static import static
from django.urls import URLPattern, URLResolver, path, re_path
from django.views.generic import RedirectView

from api.screens.account.overview import account
from api.screens.account.passwords import AskForReset, ChangePassword, SetPassword
from api.screens.account.role_table import roles_help
from api.screens.account.tokens import revoke_token, tokens
from api.screens.approval import approve
from api.screens.count import count
from api.screens.counter.acts import act, put_down, undo
from api.screens.counter.shift import shift
from api.screens.deliveries import deliveries, delivery, delivery_check
from api.screens.drawings.true_scale import chain_wear_strip, drive_wear_strip, template
from api.screens.drive import drive
from api.screens.feeds import feeds
from api.screens.guides.pages import guide_page
from api.screens.help import help_page
from api.screens.home import home, search_hits
from api.screens.identify import identify
from api.screens.import_sets import import_set, import_set_rows, import_template
from api.screens.imports import imports
from api.screens.item import item
from api.screens.kits.kit import kit
from api.screens.kits.make_up import make_up
from api.screens.lists.page import list_file, list_page, lists
from api.screens.lists.tree import tree, tree_file
from api.screens.paper.emergency import emergency_file, emergency_list, emergency_sheet
from api.screens.paper.labels import labels
from api.screens.planning.accepting import accept_decisions
from api.screens.planning.backtest import backtest
from api.screens.planning.budget import TITLES, budget_file, budget_list, budget_page
from api.screens.planning.buying import buying, buying_file
from api.screens.planning.changes import changes
from api.screens.planning.decisions import decisions
from api.screens.planning.duplicates import duplicates
from api.screens.planning.exposure import exposure
from api.screens.planning.figures import figure, figure_file, figures
from api.screens.planning.jobs import jobs
from api.screens.planning.measuring import measuring
from api.screens.planning.missing import missing, missing_file
from api.screens.planning.orphans import orphans
from api.screens.planning.recommendation import events_file, recommendation
from api.screens.planning.reorder import reorder
from api.screens.planning.rules import rules
from api.screens.planning.running import recalculate
from api.screens.planning.setting import setting
from api.screens.planning.settings import settings
from api.screens.planning.suppliers import suppliers
from api.screens.planning.variety import variety
from api.screens.position import position
from api.screens.question import question
from api.screens.reading_choices import choose_reading
from api.screens.sign_in import SignIn

app_name = "screens"
urlpatterns: list[URLPattern | URLResolver] = [
    path("", home, name="home"),
    path("account/", account, name="account"),
    path("account/password/", ChangePassword.as_view(), name="change_password"),
    path(
        "account/password/changed/",
        PasswordChangeDoneView.as_view(template_name="account/password_changed.html"),
        name="password_changed",
    ),
    path("account/reset/", AskForReset.as_view(), name="ask_for_reset"),
    path(
        "account/reset/sent/",
        PasswordResetDoneView.as_view(template_name="account/reset_sent.html"),
        name="reset_sent",
    ),
    path("account/reset/<uidb64>/<token>/", SetPassword.as_view(), name="set_password"),
    path("account/tokens/", tokens, name="tokens"),
    path("account/tokens/<int:key>/revoke/", revoke_token, name="revoke_token"),
    path("counts/<int:key>/", count, name="count"),
    path("favicon.ico", RedirectView.as_view(url=static("icon.svg")), name="icon"),
    path("hits/", search_hits, name="search_hits"),
    path("counter/shift/", shift, name="shift"),
    path("counter/undo/", undo, name="undo"),
    path("counter/put-down/", put_down, name="put_down"),
    path("counter/<slug:name>/", act, name="act"),
    path("help/", help_page, name="help"),
    path("help/roles/", roles_help, name="roles_help"),
    path("help/<slug:name>/", guide_page, name="guide"),
    path("identify/", identify, name="identify"),
    path("installations/<int:key>/approve/", approve, name="approve"),
    path("kits/new/", make_up, name="make_up"),
    path("kits/<int:key>/", kit, name="kit"),
    path("lists/", lists, name="lists"),
    path("lists/tree/", tree, name="tree"),
    re_path(r"^lists/tree\.(?P<form>csv|xlsx)$", tree_file, name="tree_file"),
    re_path(r"^lists/(?P<name>[a-z]+)\.(?P<form>csv|xlsx)$", list_file, name="list_file"),
    path("lists/<slug:name>/", list_page, name="list"),
    path("deliveries/", deliveries, name="deliveries"),
    path("deliveries/orders/<int:key>/", delivery, name="delivery"),
    path("deliveries/<int:key>/", delivery_check, name="delivery_check"),
    path("feeds/", feeds, name="feeds"),
    path("imports/", imports, name="imports"),
    path("imports/<int:key>/", import_set, name="import_set"),
    path("imports/<int:key>/rows.csv", import_set_rows, name="import_set_rows"),
    path("imports/templates/<str:name>", import_template, name="import_template"),
    path("emergency/", emergency_list, name="emergency_list"),
    path("emergency/all.html", emergency_file, name="emergency_file"),
    path("emergency/<path:tag>/", emergency_sheet, name="emergency_sheet"),
    path("labels/<slug:name>.html", labels, {"form": "html"}, name="labels_file"),
    path("labels/<slug:name>/", labels, name="labels"),
    path("planning/", decisions, name="decisions"),
    path("planning/accept/", accept_decisions, name="accept_decisions"),
    path("planning/backtest/", backtest, name="backtest"),
    path("planning/duplicates/", duplicates, name="duplicates"),
    path("planning/exposure/", exposure, name="exposure"),
    path("planning/budget/", budget_page, name="budget"),
    *(
        path(f"planning/budget/{name}/", budget_list, {"name": name}, name=f"budget_{name}")
        for name in TITLES
    ),
    path("planning/budget.csv", budget_file, name="budget_file"),
    path("planning/measure-next/", measuring, name="measuring"),
    path("planning/changes/", changes, name="changes"),
    path("planning/missing/", missing, name="missing"),
    path("planning/missing.xlsx", missing_file, name="missing_file"),
    path("planning/figures/", figures, name="figures"),
    path("planning/figures/<slug:name>/", figure, name="figure"),
    path("planning/figures/<slug:name>.csv", figure_file, name="figure_file"),
    path("planning/jobs/", jobs, name="jobs"),
    path("planning/buy/", buying, name="buying"),
    path("planning/buy.csv", buying_file, name="buying_file"),
    path("planning/settings/", settings, name="settings"),
    path("planning/settings/terms/", setting, {"kind": "terms", "key": ""}, name="setting_terms"),
    path("planning/settings/<slug:kind>/<path:key>/", setting, name="setting"),
    path("planning/reorder/", reorder, name="reorder"),
    path("planning/orphans/", orphans, name="orphans"),
    path("planning/suppliers/", suppliers, name="suppliers"),
    path("planning/rules/", rules, name="rules"),
    path("planning/variety/", variety, name="variety"),
    path("planning/runs/", recalculate, name="recalculate"),
    path("planning/<int:key>/", recommendation, name="recommendation"),
    path("planning/<int:key>/events.csv", events_file, name="recommendation_events"),
    path("questions/<int:key>/", question, name="question"),
    path("reading/", choose_reading, name="choose_reading"),
    path("login/", SignIn.as_view(), name="login"),
    path("logout/", LogoutView.as_view(next_page="/login/"), name="logout"),
    path("positions/<path:tag>/", position, name="position"),
    path("chains/<str:designation>/wear-strip/", chain_wear_strip, name="chain_wear_strip"),
    path("drives/<path:tag>/wear-strip/", drive_wear_strip, name="drive_wear_strip"),
    path("drives/<path:tag>/", drive, name="drive"),
    path("items/<path:number>/template/", template, name="template"),
    path("items/<path:number>/", item, name="item"),
]
