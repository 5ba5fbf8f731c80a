from django.db import models

# What is typed to find a crate: the last four of seven. A literal, as an index must match it.
TAIL = models.Func(
    "text", template="SUBSTR(%(expressions)s, 4)", output_field=models.CharField(max_length=4)
)


class Code(models.Model):
    """Every code ever given to a crate or a shelf. Unique for ever; rows are never deleted."""

    text = models.CharField(max_length=7, primary_key=True)

    class Meta:
        indexes = [models.Index(TAIL, name="code_by_tail")]

    def __str__(self):
        return self.text
