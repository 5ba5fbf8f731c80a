from pkgutil import iter_modules

from django.db import migrations, models

from inventory.migrations import __path__ as landed


class Migration(migrations.Migration):
    dependencies = [("inventory", max(module.name for module in iter_modules(landed)))]
    operations = [migrations.AddField("farm", "later", models.CharField(max_length=9, null=True))]
