from django.db import migrations, models

import course.models.second_factor
from course.sealing import open_sealed, seal


def seal_all(apps, schema_editor):
    for factor in apps.get_model("course", "SecondFactor").objects.all():
        factor.sealed = seal(factor.secret)
        factor.save(update_fields=["sealed"])


def open_all(apps, schema_editor):
    for factor in apps.get_model("course", "SecondFactor").objects.all():
        factor.secret = open_sealed(factor.sealed)
        factor.save(update_fields=["secret"])


class Migration(migrations.Migration):
    dependencies = [("course", "0005_paper_for_bright_sun")]

    operations = [
        migrations.AddField(
            "secondfactor",
            "sealed",
            models.TextField(default=course.models.second_factor.sealed_anew),
        ),
        # so that the way back makes the column again before it is filled
        migrations.AlterField("secondfactor", "secret", models.CharField(default="", max_length=64)),
        migrations.RunPython(seal_all, open_all),
        migrations.RemoveField("secondfactor", "secret"),
    ]
