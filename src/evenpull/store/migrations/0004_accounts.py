"""Accounts and the failed guesses of their passwords. Django's own tables of groups and permissions are not used."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("store", "0003_index")]

    operations = [
        migrations.CreateModel(
            name="Account",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("password", models.CharField(max_length=128, verbose_name="password")),
                ("last_login", models.DateTimeField(blank=True, null=True, verbose_name="last login")),
                ("login", models.CharField(max_length=60, unique=True)),
                ("full_name", models.CharField(max_length=80)),
                ("folded", models.CharField(max_length=80, unique=True)),
                ("role", models.CharField(max_length=30)),
                ("closed", models.BooleanField(default=False)),
            ],
            options={"db_table": "account"},
        ),
        migrations.CreateModel(
            name="Guesses",
            fields=[
                ("what", models.CharField(max_length=120, primary_key=True, serialize=False)),
                ("failures", models.IntegerField(default=0)),
                ("last", models.FloatField(default=0.0)),
            ],
            options={"db_table": "guesses"},
        ),
    ]
