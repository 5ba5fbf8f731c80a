"""What the owner answered to the suggestions of a week."""

import django.db.models.deletion
import inventory.models.crops
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0027_waste_aim'),
    ]

    operations = [
        migrations.AlterField(
            model_name='action',
            name='kind',
            field=models.CharField(choices=[('bring in', 'brought in'), ('move', 'moved'), ('take out', 'taken out'), ('bring back', 'brought back'), ('settle', 'market closed'), ('count', 'counted'), ('split', 'split in two'), ('combine', 'combined'), ('re-sort', 're-sorted'), ('discard', 'discarded'), ('inspect', 'looked at'), ('hold', 'put on hold'), ('release', 'released'), ('correct', 'corrected'), ('undo', 'undone'), ('tag', 'tagged'), ('change', 'set by the owner'), ('order', 'order'), ('walk', 'walk through the field'), ('hand over', 'handed over'), ('empties', 'empty crates'), ('credit', 'credit'), ('advice', 'answered to a suggestion')], max_length=10),
        ),
        migrations.CreateModel(
            name='Suggestion',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('week', models.DateField(help_text='the first day of the week it is drawn from')),
                ('rule', models.CharField(choices=[('cut less', 'cut less'), ('cut later', 'cut later'), ('cool sooner', 'cool sooner'), ('look first', 'look first'), ('load more', 'load more'), ('check place', 'check place')], max_length=11)),
                ('unit', models.CharField(choices=[('kg', 'kg'), ('lb', 'lb'), ('bunch', 'bunches'), ('head', 'heads'), ('piece', 'pieces')], max_length=5)),
                ('about', models.CharField(blank=True, max_length=20)),
                ('answer', models.CharField(choices=[('accepted', 'to be done'), ('waved', 'not now')], max_length=8)),
                ('before', inventory.models.crops.QuantityField(decimal_places=3, max_digits=12)),
                ('proposed', inventory.models.crops.QuantityField(decimal_places=3, max_digits=12)),
                ('figure', inventory.models.crops.QuantityField(decimal_places=3, max_digits=12)),
                ('outcome', inventory.models.crops.QuantityField(decimal_places=3, max_digits=12)),
                ('sums', models.JSONField(default=list)),
                ('action', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='suggestion', to='inventory.action')),
                ('crop', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.crop')),
                ('outlet', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.outlet')),
            ],
            options={
                'ordering': ['week', 'pk'],
                'indexes': [models.Index(fields=['week'], name='suggestion_by_week')],
                'constraints': [models.CheckConstraint(condition=models.Q(('figure__gte', 0)), name='what_is_to_be_done_is_no_less_than_0')],
            },
        ),
    ]
