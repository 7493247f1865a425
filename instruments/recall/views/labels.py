"""Labels as a file for the label printer: 50 by 25 mm, one per page."""

from __future__ import annotations

import segno
from django.contrib.auth.decorators import login_required, permission_required
from django.http import Http404, HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_http_methods

from instruments.inventory.queries import gauges
from instruments.recall.access import PRINT_LABELS
from instruments.recall.queries.labels import Label, labels
from labsys.pages import pdf
from labsys.pages.fonts import font_faces_css

MOST_AT_ONCE = 200


@login_required
@permission_required(PRINT_LABELS, raise_exception=True)
@require_http_methods(["GET", "POST"])
def sheet(request: HttpRequest) -> HttpResponse:
    """Give the labels of the gauges that the address names (``gauge``) or that were ticked (``selected``)."""
    texts = [*request.GET.getlist("gauge"), *request.POST.getlist("selected")]
    ids = [int(text) for text in texts if text.isdigit()][:MOST_AT_ONCE]
    found = list(gauges().filter(pk__in=ids))
    if not found:
        raise Http404("no such gauge")
    response = HttpResponse(print_of(labels(found, timezone.now())), content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="labels.pdf"'
    return response


def print_of(made: list[Label]) -> bytes:
    """Lay labels out, one per page, and render them."""
    context = {"labels": [(label, code(label.url)) for label in made], "fonts": font_faces_css(embed=True)}
    return pdf.render(render_to_string("instruments/recall/labels.html", context))


def code(url: str) -> SafeString:
    """Draw the address as a code that a telephone reads, medium error correction, with its quiet zone."""
    drawn = segno.make(url, error="m", micro=False)
    text: str = drawn.svg_inline(border=4, omitsize=True, svgclass=None, lineclass=None)
    return mark_safe(text)
