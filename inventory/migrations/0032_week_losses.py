import django.db.models.deletion
import inventory.models.crops
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0031_week_mail'),
    ]

    operations = [
        migrations.AddField(
            model_name='week',
            name='losses_kept',
            field=models.BooleanField(default=False, help_text='where life was lost was counted as well'),
        ),
        migrations.CreateModel(
            name='WeekLoss',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('step', models.CharField(choices=[('field', 'In the field'), ('cooling', 'Cooling slowly'), ('room', 'Room too warm'), ('out', 'Out at a stall, and back'), ('forgotten', 'Forgotten, younger went')], max_length=9)),
                ('crate_days', inventory.models.crops.QuantityField(decimal_places=3, help_text='days at the best temperature, times crates', max_digits=12)),
                ('money', models.DecimalField(blank=True, decimal_places=2, help_text='empty where some of it had no price', max_digits=12, null=True)),
                ('crop', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.crop')),
                ('week', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='losses', to='inventory.week')),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.UniqueConstraint(fields=('week', 'crop', 'step'), name='one_loss_a_week_crop_and_step')],
            },
        ),
    ]
