from django.db import models


class Mail(models.Model):
    """A message on its way to the owner. Its key says what it is about, so that it is said once."""

    key = models.CharField(max_length=120, unique=True)
    subject = models.CharField(max_length=200)
    body = models.TextField()
    written_at = models.DateTimeField()
    next_try_at = models.DateTimeField()
    tries = models.PositiveIntegerField(default=0)
    trouble = models.CharField(max_length=20, blank=True, help_text="why the last try failed")
    server_said = models.CharField(max_length=200, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["next_try_at", "pk"]
        indexes = [models.Index(fields=["sent_at", "next_try_at"], name="mail_that_waits")]

    def __str__(self):
        return self.subject


class Chore(models.Model):
    """What the watch does every night, and how it went the last time."""

    name = models.CharField(max_length=20, primary_key=True)
    tried_at = models.DateTimeField()
    done_at = models.DateTimeField(null=True, blank=True)
    trouble = models.TextField(blank=True, help_text="why the last try failed")
    found = models.TextField(blank=True, help_text="what it found wrong when it was last done")

    class Meta:
        ordering = ["name"]

    def __str__(self):
        return self.name


class Watch(models.Model):
    """Since when the watch goes its rounds without a break, and when the last one was."""

    since = models.DateTimeField()
    last_round_at = models.DateTimeField()

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(pk=1), name="only_one_watch")]

    def __str__(self):
        return str(self.last_round_at)
