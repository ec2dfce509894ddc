"""Clients of the HTTP interface, and the requests that were carried out for them."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("store", "0004_accounts")]

    operations = [
        migrations.CreateModel(
            name="ApiClient",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=80)),
                ("folded", models.CharField(max_length=80, unique=True)),
                ("role", models.CharField(max_length=30)),
                ("token", models.CharField(max_length=64, unique=True)),
                ("closed", models.BooleanField(default=False)),
            ],
            options={"db_table": "api_client"},
        ),
        migrations.CreateModel(
            name="ApiRequest",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("client", models.BigIntegerField()),
                ("key", models.CharField(max_length=100)),
                ("digest", models.CharField(max_length=64)),
                ("answer", models.TextField()),
            ],
            options={
                "db_table": "api_request",
                "constraints": [models.UniqueConstraint(fields=["client", "key"], name="api_request_once")],
            },
        ),
    ]
