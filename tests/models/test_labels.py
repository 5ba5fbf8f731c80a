from inventory.models import Code, LabelAddress, Tag, TagBinding
from tests.builders import NOW, make_lots, owner
from tests.models.constraints import unclean


def test_labeladdress_address_is_unique(refused):
    LabelAddress.objects.create(address="http://cold.local:8000", since=NOW)
    LabelAddress.objects.create(address="http://cold.local:8001", since=NOW)
    assert unclean(LabelAddress(address="http://cold.local:8000", since=NOW)) == {"unique"}
    with refused():
        LabelAddress.objects.create(address="http://cold.local:8000", since=NOW)


def test_a_tag_is_on_one_crate(farm, refused):
    tag, spare = (
        Tag.objects.create(code=Code.objects.create(text=text), made_at=NOW)
        for text in ("TAG0001", "TAG0002")
    )
    first, second = make_lots(4, 4)
    put_on = {"at": NOW, "person": owner()}
    TagBinding.objects.create(tag=tag, lot=first, taken_off_at=NOW, **put_on)
    TagBinding.objects.create(tag=tag, lot=second, taken_off_at=NOW, **put_on)
    TagBinding.objects.create(tag=tag, lot=first, **put_on)
    TagBinding.objects.create(tag=spare, lot=first, **put_on)
    with refused():
        TagBinding.objects.create(tag=tag, lot=second, **put_on)
