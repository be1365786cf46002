from __future__ import annotations

from django.urls import path

from production import views
from production.buying import shopping_urls
from production.cutting import cutting_urls, table_urls
from production.forecasting import forecast_urls
from production.glance import glance_urls
from production.handing_over import hand_over_urls
from production.history import history_urls
from production.looking_back import afterwards_urls
from production.needs import thread_urls
from production.people import people_urls
from production.quoting import quote_urls
from production.reporting import reports_urls
from production.scanning import scan_urls
from production.scheduling import schedule_urls
from production.sewing import sewing_urls
from production.stages import stage_urls
from production.stock import cloth_urls
from production.work_study import operations_urls, time_study_urls
from production.workroom import supplies_urls, workroom_urls

app_name = "production"
urlpatterns = [
    path("runs/", views.runs, name="runs"),
    path("runs/new/", views.new_run, name="new_run"),
    path("runs/<str:code>/", views.run, name="run"),
    path("runs/<str:code>/needs/", views.needs, name="needs"),
    path("runs/<str:code>/jackets/", views.run_jackets, name="run_jackets"),
    path("runs/<str:code>/tickets/<str:ticket>/", views.cut_ticket, name="cut_ticket"),
    path("runs/<str:code>/cut-tickets.pdf", views.cut_tickets_pdf, name="cut_tickets_pdf"),
    path("runs/<str:code>/bundle-tags.pdf", views.bundle_tags_pdf, name="bundle_tags_pdf"),
    path("j/<str:code>/", views.jacket, name="jacket"),
    path("j/<str:code>/record/", views.record, name="record"),
    *afterwards_urls.urlpatterns,
    *cloth_urls.urlpatterns,
    *cutting_urls.urlpatterns,
    *reports_urls.urlpatterns,
    *shopping_urls.urlpatterns,
    *supplies_urls.urlpatterns,
    *table_urls.urlpatterns,
    *workroom_urls.urlpatterns,
    *quote_urls.urlpatterns,
    *operations_urls.urlpatterns,
    *thread_urls.urlpatterns,
    *time_study_urls.urlpatterns,
    *people_urls.urlpatterns,
    *schedule_urls.urlpatterns,
    *forecast_urls.urlpatterns,
    *scan_urls.urlpatterns,
    *stage_urls.urlpatterns,
    *sewing_urls.urlpatterns,
    *hand_over_urls.urlpatterns,
    *history_urls.urlpatterns,
    *glance_urls.urlpatterns,
]
