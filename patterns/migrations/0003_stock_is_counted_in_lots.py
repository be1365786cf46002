from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("patterns", "0002_cutting")]
    operations = [migrations.RemoveField(model_name="fabriccolor", name="in_stock_mm")]
