"""What each joint asks, beside its finding, so that a review of a tool need not plan every joint it touched."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("store", "0005_api")]

    operations = [
        migrations.CreateModel(
            name="Basis",
            fields=[
                ("fold", models.CharField(max_length=100, primary_key=True, serialize=False)),
                ("spec", models.BigIntegerField()),
                ("body", models.TextField()),
                ("seal", models.CharField(max_length=64)),
            ],
            options={"db_table": "basis"},
        ),
    ]
