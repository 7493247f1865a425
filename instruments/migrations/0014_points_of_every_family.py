"""Points with direction, member and any place; results of every kind, with or without limits."""

from __future__ import annotations

import django.db.models.deletion
from django.db import migrations, models

from labsys.journal.rows import GuardAnew


class Migration(migrations.Migration):
    """Points with direction and member, results of several points, results without limits."""

    dependencies = [
        ('instruments', '0013_bench_evidence'),
    ]

    operations = [
        migrations.AddField(
            model_name='point',
            name='direction',
            field=models.CharField(blank=True, choices=[('up', 'going up'), ('down', 'coming down'), ('', 'no direction')], default='', max_length=4),
        ),
        migrations.AddField(
            model_name='point',
            name='member',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='points', to='instruments.member'),
        ),
        migrations.AddField(
            model_name='result',
            name='name',
            field=models.CharField(blank=True, default='', max_length=120),
        ),
        migrations.AlterField(
            model_name='point',
            name='place',
            field=models.CharField(blank=True, default='', max_length=24),
        ),
        migrations.AlterField(
            model_name='result',
            name='U_mm',
            field=models.DecimalField(decimal_places=9, help_text='calibration uncertainty, expanded: what the certificate reports', max_digits=15, null=True),
        ),
        migrations.AlterField(
            model_name='result',
            name='U_test_mm',
            field=models.DecimalField(decimal_places=9, help_text='test-value uncertainty, expanded', max_digits=15, null=True),
        ),
        migrations.AlterField(
            model_name='result',
            name='k',
            field=models.DecimalField(decimal_places=3, max_digits=6, null=True),
        ),
        migrations.AlterField(
            model_name='result',
            name='kind',
            field=models.CharField(choices=[('error', 'error of indication'), ('deviation', 'deviation of size'), ('value', 'measured value'), ('span', 'span of the errors'), ('section', 'span of the errors over a short section'), ('hysteresis', 'hysteresis'), ('spread', 'repeatability'), ('variation', 'variation of length'), ('roundness', 'out of round'), ('taper', 'taper'), ('attribute', 'fit')], max_length=10),
        ),
        migrations.AlterField(
            model_name='result',
            name='verdict',
            field=models.CharField(blank=True, max_length=20),
        ),
        migrations.AlterField(
            model_name='result',
            name='within_limits',
            field=models.BooleanField(null=True),
        ),
        migrations.AddConstraint(
            model_name='result',
            constraint=models.CheckConstraint(condition=models.Q(('kind', 'attribute'), models.Q(('U_mm__isnull', False), ('U_test_mm__isnull', False), ('k__isnull', False)), _connector='OR'), name='result_has_uncertainty', violation_error_message='A measured result needs its uncertainty.'),
        ),
        GuardAnew("instruments_result"),
    ]
