"""From a case to a plan: candidates, screening, choice, record."""

from trajplan.planner._assess import Assessment, assess, work_out
from trajplan.planner._candidates import Candidates, candidates
from trajplan.planner._check import check_axes, judge_axes
from trajplan.planner._check_record import check_record
from trajplan.planner._choose import best_set
from trajplan.planner._fracture_record import fracture_record
from trajplan.planner._load import SOURCE_FILE, load_plan, note_case
from trajplan.planner._model import (
    MODEL_FILE,
    Model,
    make_model,
    model_case,
    model_files,
    model_record,
)
from trajplan.planner._obstacles import MeshUse
from trajplan.planner._place_records import plan_bearings
from trajplan.planner._plan import Alternative, Plan, plan_case
from trajplan.planner._plate_press import PlatePress, plate_press
from trajplan.planner._pressing import Pressing
from trajplan.planner._provenance import same_inputs
from trajplan.planner._record import plan_record, program_version
from trajplan.planner._reduce import Reduced, judged, reduce_case
from trajplan.planner._reduction_load import load_reduction
from trajplan.planner._reduction_record import (
    CASE_FILE,
    REDUCTION_FILE,
    reduced_files,
    reduction_record,
)
from trajplan.planner._screen import Screening, Tally, screen
from trajplan.planner._setup import BoneMaker, Setup, set_up
from trajplan.planner._split import split_case
from trajplan.planner._study import StudyRow, StudySetting, study, study_values
from trajplan.planner._wires import Wires, keep_wires

__all__ = [
    "CASE_FILE",
    "MODEL_FILE",
    "REDUCTION_FILE",
    "SOURCE_FILE",
    "Alternative",
    "Assessment",
    "BoneMaker",
    "Candidates",
    "MeshUse",
    "Model",
    "Plan",
    "PlatePress",
    "Pressing",
    "Reduced",
    "Screening",
    "Setup",
    "StudyRow",
    "StudySetting",
    "Tally",
    "Wires",
    "assess",
    "best_set",
    "candidates",
    "check_axes",
    "check_record",
    "fracture_record",
    "judge_axes",
    "judged",
    "keep_wires",
    "load_plan",
    "load_reduction",
    "make_model",
    "model_case",
    "model_files",
    "model_record",
    "note_case",
    "plan_bearings",
    "plan_case",
    "plan_record",
    "plate_press",
    "program_version",
    "reduce_case",
    "reduced_files",
    "reduction_record",
    "same_inputs",
    "screen",
    "set_up",
    "split_case",
    "study",
    "study_values",
    "work_out",
]
