"""Addresses of the pages."""

from django.contrib.auth.views import LogoutView
from django.templatetags.static import static
from django.urls import URLPattern, URLResolver, path
from django.views.generic import RedirectView

from api.screens.drive import drive
from api.screens.entry import front, hits
from api.screens.item import item
from api.screens.planning.backtest import backtest
from api.screens.planning.exposure import exposure
from api.screens.planning.frontier import frontier, frontier_file
from api.screens.planning.recommendation import events_file, recommendation
from api.screens.planning.reorder import reorder
from api.screens.planning.running import work_out_anew
from api.screens.planning.waiting import waiting
from api.screens.position import position
from api.screens.sign_in import SignIn

app_name = "screens"
urlpatterns: list[URLPattern | URLResolver] = [
    path("", front, name="front"),
    path("favicon.ico", RedirectView.as_view(url=static("icon.svg")), name="icon"),
    path("hits/", hits, name="hits"),
    path("keep/", waiting, name="keep"),
    path("keep/backtest/", backtest, name="backtest"),
    path("keep/exposure/", exposure, name="exposure"),
    path("keep/frontier/", frontier, name="frontier"),
    path("keep/frontier.csv", frontier_file, name="frontier_file"),
    path("keep/reorder/", reorder, name="reorder"),
    path("keep/runs/", work_out_anew, name="work_out_anew"),
    path("keep/<int:key>/", recommendation, name="recommendation"),
    path("keep/<int:key>/events.csv", events_file, name="recommendation_events"),
    path("login/", SignIn.as_view(), name="login"),
    path("logout/", LogoutView.as_view(next_page="/login/"), name="logout"),
    path("positions/<path:tag>/", position, name="position"),
    path("drives/<path:tag>/", drive, name="drive"),
    path("items/<path:number>/", item, name="item"),
]
