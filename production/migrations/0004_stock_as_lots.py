import datetime

from django.db import migrations


def lots_from_stock(apps, schema_editor):
    """The stock of a color so far becomes one lot whose dye lot nobody has noted."""
    lots = apps.get_model("production", "StockLot").objects
    movements = apps.get_model("production", "StockMovement").objects
    colors = apps.get_model("patterns", "FabricColor").objects.select_related("fabric")
    for color in colors.filter(in_stock_mm__gt=0):
        lot = lots.create(
            code=f"LOT-{color.pk}",
            fabric_color=color,
            dye_lot="not noted",
            usable_width_mm=color.fabric.usable_width_mm,
            received_on=datetime.date.today(),
        )
        movements.create(lot=lot, kind="received", mm=color.in_stock_mm)


class Migration(migrations.Migration):
    dependencies = [("production", "0003_cutting")]
    run_before = [("patterns", "0003_stock_is_counted_in_lots")]
    operations = [migrations.RunPython(lots_from_stock, migrations.RunPython.noop)]
