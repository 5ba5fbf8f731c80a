from django.urls import include, path

urlpatterns = [path("", include("inventory.urls"))]

handler400 = "inventory.views.errors.bad_request"
handler403 = "inventory.views.errors.forbidden"
handler404 = "inventory.views.errors.not_found"
handler500 = "inventory.views.errors.server_error"
