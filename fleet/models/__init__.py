"""All records of the register; import them from here."""

from fleet.models.arms import BowArm
from fleet.models.audit import AuditEntry, AuditHead
from fleet.models.bookings import Booking, GuestName
from fleet.models.bows import BenchVisit, Bow, Deferral, Hold, Release, Retirement, SetUp
from fleet.models.cords import Cord, CordReset, Fitting
from fleet.models.desk import HeldTogether, HoldAction, Language, SavedView, ScreenChoice, Theme
from fleet.models.devices import DeviceToken
from fleet.models.erasures import Departure, ErasedKind, Erasure
from fleet.models.feeds import DigestWish, FeedKey
from fleet.models.heat import Relaxation, Stay, TemperatureReading, VehicleParking
from fleet.models.incidents import Incident, Notice, NoticeMatch
from fleet.models.measurements import (
    MeasuringTool,
    ReferenceMeasurement,
    ReferenceSet,
    ResultMeasurement,
    SignedResult,
)
from fleet.models.second_factor import SealedDevice
from fleet.models.sites import (
    Absence,
    BenchHours,
    ChecklistItem,
    ClosedDay,
    Person,
    PersonSkill,
    Place,
    Post,
    Press,
    Site,
)
from fleet.models.specs import CoefficientSetting, CordSpec, FactoryReference, SpecSheet, SpecSheetCord
from fleet.models.stock import StockMovement, SupplierOrder
from fleet.models.usage import CheckPhoto, Hire, Shots, TurnaroundCheck

__all__ = [
    "Absence",
    "AuditEntry",
    "AuditHead",
    "BenchHours",
    "BenchVisit",
    "Booking",
    "Bow",
    "BowArm",
    "CheckPhoto",
    "ChecklistItem",
    "ClosedDay",
    "CoefficientSetting",
    "Cord",
    "CordReset",
    "CordSpec",
    "Deferral",
    "Departure",
    "DeviceToken",
    "DigestWish",
    "ErasedKind",
    "Erasure",
    "FactoryReference",
    "FeedKey",
    "Fitting",
    "GuestName",
    "HeldTogether",
    "Hire",
    "Hold",
    "HoldAction",
    "Incident",
    "Language",
    "MeasuringTool",
    "Notice",
    "NoticeMatch",
    "Person",
    "PersonSkill",
    "Place",
    "Post",
    "Press",
    "ReferenceMeasurement",
    "ReferenceSet",
    "Relaxation",
    "Release",
    "ResultMeasurement",
    "Retirement",
    "SavedView",
    "ScreenChoice",
    "SealedDevice",
    "SetUp",
    "Shots",
    "SignedResult",
    "Site",
    "SpecSheet",
    "SpecSheetCord",
    "Stay",
    "StockMovement",
    "SupplierOrder",
    "TemperatureReading",
    "Theme",
    "TurnaroundCheck",
    "VehicleParking",
]
