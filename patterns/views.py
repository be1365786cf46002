"""Pages that show what a jacket is made of."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from patterns import queries
from patterns.models import Blocking
from patterns.pictures import blank_svgs


def blockings(request: HttpRequest) -> HttpResponse:
    rows = [
        (blocking, blank_svgs(blocking)[0][1])
        for blocking in Blocking.objects.select_related("pattern").prefetch_related("blocks")
    ]
    return render(request, "patterns/blockings.html", {"rows": rows})


def blocking(request: HttpRequest, code: str) -> HttpResponse:
    found = get_object_or_404(Blocking.objects.select_related("pattern"), code=code)
    sizes = list(found.pattern.sizes.all())
    middle = sizes[len(sizes) // 2]
    size = next((one for one in sizes if one.code == request.GET.get("size")), middle)
    return render(
        request,
        "patterns/blocking.html",
        {
            "blocking": found,
            "sizes": sizes,
            "size": size,
            "pictures": blank_svgs(found),
            "blocks": queries.block_drawings(found, size),
            "style_lines": found.style_lines.all(),
            "checks": queries.draft_checks(size),
        },
    )
