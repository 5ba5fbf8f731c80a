"""Paper logs, probes and daily checks may be taken back: the row stays and says by whom."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0013_farm_on_labels'),
    ]

    operations = [
        migrations.CreateModel(
            name='PaperLog',
            fields=[
                ('taken_back_at', models.DateTimeField(blank=True, null=True)),
                ('id', models.UUIDField(primary_key=True, serialize=False)),
                ('at', models.DateTimeField(help_text='when it was typed in')),
                ('added', models.PositiveIntegerField(default=0)),
                ('already_there', models.PositiveIntegerField(default=0)),
                ('set_aside', models.PositiveIntegerField(default=0)),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.AlterModelOptions(
            name='roomcheck',
            options={'ordering': ['room', 'day', 'pk']},
        ),
        migrations.RemoveConstraint(
            model_name='probereading',
            name='one_probe_per_moment',
        ),
        migrations.RemoveConstraint(
            model_name='roomcheck',
            name='one_check_per_room_and_day',
        ),
        migrations.AddField(
            model_name='probereading',
            name='taken_back_at',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='probereading',
            name='taken_back_by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='reading',
            name='taken_back_at',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='reading',
            name='taken_back_by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='roomcheck',
            name='entry_id',
            field=models.UUIDField(blank=True, help_text='id of the form, which its reading has too', null=True, unique=True),
        ),
        migrations.AddField(
            model_name='roomcheck',
            name='judged',
            field=models.ForeignKey(blank=True, help_text='what was answered of the one crate asked about', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.action'),
        ),
        migrations.AddField(
            model_name='roomcheck',
            name='replaced_by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='replaces', to='inventory.roomcheck'),
        ),
        migrations.AddField(
            model_name='roomcheck',
            name='taken_back_at',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='roomcheck',
            name='taken_back_by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AlterField(
            model_name='movement',
            name='reason',
            field=models.CharField(blank=True, choices=[('spoiled', 'rotten or slimy'), ('wilted', 'wilted'), ('yellowed', 'yellowed or overripe'), ('froze', 'froze'), ('chilled', 'hurt by cold'), ('damaged', 'bruised or broken'), ('pests', 'pests'), ('unsafe', 'dirty or doubtful'), ('unsold', 'good, but not sold'), ('culled', 'culled at sorting'), ('list said', 'the list said so'), ('past date', 'past its date'), ('other', 'other')], max_length=9),
        ),
        migrations.AddConstraint(
            model_name='probereading',
            constraint=models.UniqueConstraint(condition=models.Q(('taken_back_at__isnull', True)), fields=('intake', 'at'), name='one_probe_per_moment'),
        ),
        migrations.AddConstraint(
            model_name='roomcheck',
            constraint=models.UniqueConstraint(condition=models.Q(('replaced_by__isnull', True), ('taken_back_at__isnull', True)), fields=('room', 'day'), name='one_check_per_room_and_day'),
        ),
        migrations.AddField(
            model_name='paperlog',
            name='person',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='paperlog',
            name='room',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, to='inventory.room'),
        ),
        migrations.AddField(
            model_name='paperlog',
            name='taken_back_by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='reading',
            name='paper',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to='inventory.paperlog'),
        ),
    ]
