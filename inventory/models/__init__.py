"""Tables and their constraints; no workflow. Rows of the ledger are never edited or deleted."""

from inventory.models.advice import Suggestion
from inventory.models.buyers import Outlet, StandingLine, StandingOrder
from inventory.models.codes import Code
from inventory.models.counts import CountRound, CountSeen
from inventory.models.crops import CaseKind, Container, Crop, Source
from inventory.models.farm import Farm
from inventory.models.field import Estimate
from inventory.models.handover import CratesLeft, Credit, Empties, Handover
from inventory.models.labels import LabelAddress, LabelPrint, Tag, TagBinding
from inventory.models.ledger import Action, Change, FinalAction, FirstInLine, Movement
from inventory.models.lots import Intake, Lot, Parentage
from inventory.models.market import MarketDay, MarketHabit, MarketSale
from inventory.models.orders import Lease, NotThere, Order, OrderEntry, OrderLine, Take
from inventory.models.people import Guess, Person, Phone
from inventory.models.places import Position, Room, RoomTarget
from inventory.models.temperatures import (
    AlarmClosing,
    AlarmMail,
    LogChange,
    PaperLog,
    ProbeReading,
    Reading,
    RoomCheck,
    Sensor,
    TemperatureFile,
)
from inventory.models.upkeep import Chore, Mail, Watch
from inventory.models.weeks import Week, WeekLoss, WeekMark, WeekNet, WeekSum

__all__ = [
    "Action",
    "AlarmClosing",
    "AlarmMail",
    "CaseKind",
    "Change",
    "Chore",
    "Code",
    "Container",
    "CountRound",
    "CountSeen",
    "CratesLeft",
    "Credit",
    "Crop",
    "Empties",
    "Estimate",
    "Farm",
    "FinalAction",
    "FirstInLine",
    "Guess",
    "Handover",
    "Intake",
    "LabelAddress",
    "LabelPrint",
    "Lease",
    "LogChange",
    "Lot",
    "Mail",
    "MarketDay",
    "MarketHabit",
    "MarketSale",
    "Movement",
    "NotThere",
    "Order",
    "OrderEntry",
    "OrderLine",
    "Outlet",
    "PaperLog",
    "Parentage",
    "Person",
    "Phone",
    "Position",
    "ProbeReading",
    "Reading",
    "Room",
    "RoomCheck",
    "RoomTarget",
    "Sensor",
    "Source",
    "StandingLine",
    "StandingOrder",
    "Suggestion",
    "Tag",
    "TagBinding",
    "Take",
    "TemperatureFile",
    "Watch",
    "Week",
    "WeekLoss",
    "WeekMark",
    "WeekNet",
    "WeekSum",
]
