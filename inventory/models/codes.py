from django.db import models


class Code(models.Model):
    """Every code ever given to a crate or a shelf. Unique for ever; rows are never deleted."""

    text = models.CharField(max_length=7, primary_key=True)

    def __str__(self):
        return self.text
