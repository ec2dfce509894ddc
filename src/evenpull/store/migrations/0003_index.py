"""Where facts are found: by joint in capitals, by tool, person, lot, file. All of it is made from the facts again."""

import django.db.models.functions.text
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("store", "0002_written_once")]

    operations = [
        migrations.RemoveIndex(model_name="fact", name="fact_joint_kind"),
        migrations.AddIndex(
            model_name="fact",
            index=models.Index(django.db.models.functions.text.Upper("joint"), "kind", "seq", name="fact_fold_kind"),
        ),
        migrations.DeleteModel(name="Finding"),  # findings are thrown away and computed again
        migrations.CreateModel(
            name="Finding",
            fields=[
                ("joint", models.CharField(max_length=100, primary_key=True, serialize=False)),
                ("fold", models.CharField(max_length=100, unique=True)),
                ("stale", models.BooleanField(default=True)),
                ("upto", models.BigIntegerField(default=-1)),
                ("rules", models.CharField(blank=True, max_length=40)),
                ("good_until", models.CharField(blank=True, max_length=10)),
                ("state", models.CharField(blank=True, max_length=40)),
                ("joint_class", models.CharField(blank=True, max_length=1)),
                ("words", models.CharField(blank=True, max_length=600)),
                ("alike", models.CharField(blank=True, max_length=100)),
                ("ratio", models.FloatField(null=True)),
                ("sheet", models.CharField(blank=True, max_length=64)),
                ("summary", models.TextField(blank=True)),
                ("seal", models.CharField(blank=True, max_length=64)),
            ],
            options={
                "db_table": "finding",
                "indexes": [
                    models.Index(fields=["stale", "joint"], name="finding_stale"),
                    models.Index(fields=["state", "joint"], name="finding_state"),
                    models.Index(fields=["good_until"], name="finding_due"),
                    models.Index(fields=["alike"], name="finding_alike"),
                    models.Index(fields=["sheet"], name="finding_sheet"),
                ],
            },
        ),
        migrations.CreateModel(
            name="Pull",
            fields=[
                ("seq", models.BigIntegerField(primary_key=True, serialize=False)),
                ("fold", models.CharField(max_length=100)),
                ("unit", models.CharField(blank=True, max_length=100)),
                ("fastener", models.IntegerField()),
                ("pass_number", models.IntegerField(null=True)),
                ("event", models.CharField(max_length=30)),
                ("tool", models.CharField(blank=True, max_length=100)),
                ("epoch", models.CharField(blank=True, max_length=100)),
                ("counter", models.BigIntegerField(null=True)),
                ("operator", models.CharField(blank=True, max_length=100)),
                ("time", models.FloatField(null=True)),
                ("torque", models.FloatField(null=True)),
                ("angle", models.FloatField(null=True)),
                ("file", models.BigIntegerField()),
            ],
            options={
                "db_table": "pull",
                "indexes": [
                    models.Index(fields=["fold", "seq"], name="pull_fold"),
                    models.Index(fields=["tool", "epoch", "counter"], name="pull_tool"),
                    models.Index(fields=["operator", "seq"], name="pull_operator"),
                ],
            },
        ),
        migrations.CreateModel(
            name="Mention",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("kind", models.CharField(max_length=20)),
                ("name", models.CharField(max_length=200)),
                ("fold", models.CharField(blank=True, max_length=100)),
                ("unit", models.CharField(blank=True, max_length=100)),
                ("fastener", models.IntegerField(null=True)),
                ("seq", models.BigIntegerField()),
                ("n", models.IntegerField(default=1)),
            ],
            options={
                "db_table": "mention",
                "indexes": [
                    models.Index(fields=["kind", "name", "seq"], name="mention_name"),
                    models.Index(fields=["fold", "kind", "seq"], name="mention_fold"),
                ],
            },
        ),
    ]
