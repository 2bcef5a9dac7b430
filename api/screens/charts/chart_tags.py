"""Template tags of charts."""

from django import template

from api.screens.charts.chart import Chart

register = template.Library()


@register.simple_tag(takes_context=True)
def chart_address(context: template.Context, chart: Chart) -> str:
    return chart.address(context["request"])
