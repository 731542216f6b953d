"""Addresses of the day's work. Jobs are named by their number in the studio."""

from django.urls import path

from jobs import urls_papers
from jobs.views import brief, design, jobs, price

app_name = "jobs"
urlpatterns = [
    path("jobs/", jobs.job_list, name="jobs"),
    path("jobs/new/", jobs.new_job, name="new"),
    path("jobs/<int:number>/", brief.brief, name="brief"),
    path("jobs/<int:number>/design/", design.design, name="design"),
    path("jobs/<int:number>/design.json", design.document, name="design-document"),
    path("jobs/<int:number>/price/", price.price, name="price"),
    *urls_papers.urlpatterns,
]
