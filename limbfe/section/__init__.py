"""Cross-sections: meshes, 6x6 stiffness and mass, named properties, stress recovery."""

from limbfe.section.mesh import (
    SectionMesh,
    integration_points,
    mapped_mesh,
    mesh_from_arrays,
    section_mesh,
)
from limbfe.section.properties import (
    PrincipalAxes,
    axial_stiffness,
    bending_stiffness,
    moved_reference,
    neutral_axis,
    principal_axes,
    shear_centre,
    tension_centre,
    torsion_constant,
    torsion_stiffness,
)
from limbfe.section.recovery import (
    RecoveredField,
    recover,
    resultants_of,
    strain_at,
    to_local_axes,
)
from limbfe.section.stiffness import SectionStiffness, section_stiffness

__all__ = [
    "PrincipalAxes",
    "RecoveredField",
    "SectionMesh",
    "SectionStiffness",
    "axial_stiffness",
    "bending_stiffness",
    "integration_points",
    "mapped_mesh",
    "mesh_from_arrays",
    "moved_reference",
    "neutral_axis",
    "principal_axes",
    "recover",
    "resultants_of",
    "section_mesh",
    "section_stiffness",
    "shear_centre",
    "strain_at",
    "tension_centre",
    "to_local_axes",
    "torsion_constant",
    "torsion_stiffness",
]
