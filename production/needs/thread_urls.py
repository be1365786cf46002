"""Addresses of a run's thread, and of thread samples."""

from __future__ import annotations

from django.urls import path

from production.needs import thread_views as views

urlpatterns = [
    path("runs/<str:code>/thread/", views.run_thread, name="run_thread"),
    path("thread-samples/", views.thread_samples, name="thread_samples"),
    path("thread-samples/<int:number>/use/", views.use_sample, name="use_thread_sample"),
    path("thread-samples/<int:number>/stop/", views.stop_sample, name="stop_thread_sample"),
]
