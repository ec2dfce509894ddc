"""Where torque-angle curves are found, and the present finding of each file of them."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("store", "0006_basis")]

    operations = [
        migrations.CreateModel(
            name="CurveFile",
            fields=[
                ("seq", models.BigIntegerField(primary_key=True, serialize=False)),
                ("fold", models.CharField(max_length=100)),
                ("stale", models.BooleanField(default=True)),
                ("judged", models.CharField(blank=True, max_length=140)),
                ("found_sha256", models.CharField(blank=True, max_length=64)),
                ("seal", models.CharField(blank=True, max_length=64)),
            ],
            options={
                "db_table": "curve_file",
                "indexes": [models.Index(fields=["fold", "seq"], name="curve_file_fold")],
            },
        ),
        migrations.CreateModel(
            name="Curve",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("file", models.BigIntegerField()),
                ("number", models.IntegerField()),
                ("fold", models.CharField(max_length=100)),
                ("tool", models.CharField(blank=True, max_length=100)),
                ("epoch", models.CharField(blank=True, max_length=100)),
                ("counter", models.BigIntegerField(null=True)),
                ("unit", models.CharField(blank=True, max_length=100)),
                ("fastener", models.IntegerField(null=True)),
                ("digest", models.BigIntegerField()),
            ],
            options={
                "db_table": "curve",
                "indexes": [
                    models.Index(fields=["tool", "epoch", "counter"], name="curve_tool"),
                    models.Index(fields=["fold", "fastener"], name="curve_fold"),
                ],
                "constraints": [models.UniqueConstraint(fields=("file", "number"), name="curve_once")],
            },
        ),
    ]
