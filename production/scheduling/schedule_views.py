from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe


@require_safe
def today(request: HttpRequest) -> HttpResponse:
    return render(request, "production/scheduling/today.html")
