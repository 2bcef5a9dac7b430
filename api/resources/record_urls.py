"""Addresses of the records."""

from django.urls import URLPattern, URLResolver
from rest_framework.routers import SimpleRouter

from api.resources.specifications import SpecificationViewSet

router = SimpleRouter()
router.register("specifications", SpecificationViewSet, basename="specification")

RECORDS: list[URLPattern | URLResolver] = router.urls
