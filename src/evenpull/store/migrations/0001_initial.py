from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True
    dependencies = []

    operations = [
        migrations.CreateModel(
            name="Fact",
            fields=[
                ("seq", models.BigIntegerField(primary_key=True, serialize=False)),
                ("kind", models.CharField(max_length=40)),
                ("joint", models.CharField(blank=True, max_length=100)),
                ("key", models.CharField(max_length=400, unique=True)),
                ("author", models.CharField(max_length=200)),
                ("received_at", models.CharField(max_length=27)),
                ("written_at", models.CharField(max_length=27)),
                ("body", models.TextField()),
                ("digest", models.CharField(max_length=64)),
            ],
            options={
                "db_table": "fact",
                "ordering": ["seq"],
                "indexes": [
                    models.Index(fields=["joint", "kind", "seq"], name="fact_joint_kind"),
                    models.Index(fields=["kind", "seq"], name="fact_kind"),
                ],
            },
        ),
        migrations.CreateModel(
            name="Checkpoint",
            fields=[
                ("size", models.BigIntegerField(primary_key=True, serialize=False)),
                ("root", models.CharField(max_length=64)),
                ("frontier", models.TextField()),
                ("time", models.CharField(max_length=27)),
                ("key", models.CharField(max_length=64)),
                ("signature", models.CharField(max_length=128)),
            ],
            options={"db_table": "checkpoint"},
        ),
        migrations.CreateModel(
            name="Finding",
            fields=[
                ("joint", models.CharField(max_length=100, primary_key=True, serialize=False)),
                ("upto", models.CharField(max_length=200)),
                ("summary", models.TextField()),
                ("seal", models.CharField(max_length=64)),
            ],
            options={"db_table": "finding"},
        ),
    ]
