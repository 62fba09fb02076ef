"""The addresses of the stateless calculations, mounted at /api/calc/."""

from __future__ import annotations

from django.urls import include, path

from calc.web import bench, material_views, riding, views

urlpatterns = [
    path("evaluate/", views.EvaluateView.as_view()),
    path("needed/", views.NeededView.as_view()),
    path("choose/", views.ChooseView.as_view()),
    path("coil/", views.CoilView.as_view()),
    path("gap/", views.GapView.as_view()),
    path("sag/", views.SagView.as_view()),
    path("tester/", bench.TesterView.as_view()),
    path("materials/", material_views.MaterialsView.as_view()),
    path("wire/", bench.WireView.as_view()),
    path("leverage/", bench.LeverageView.as_view()),
    path("chassis/", riding.ChassisView.as_view()),
    path("contact/", riding.ContactView.as_view()),
    path("picture/", views.PictureView.as_view()),
    path("", include("calc.web.sure_views")),
]
