"""A washing machine as numbers, grouped by how long they stay the same.

Axes: x to the right as seen from the front, y to the rear, z up; origin on the floor below the
middle of the cabinet. Places are those of the machine as drawn, before anything sags. Field names
carry their unit; masses in kg, the rest SI.
"""

from dataclasses import dataclass, field, replace

# x, y, z
Vector = tuple[float, float, float]


@dataclass(frozen=True)
class Cabinet:
    """Sheet-metal box with all that is fixed to it; inertia in kg m2 about its own centre."""

    mass_kg: float
    centre_m: Vector
    inertia_kg_m2: Vector
    size_m: Vector


@dataclass(frozen=True)
class Foot:
    """One foot: it pushes, never pulls, and sticks to the floor up to friction times load (N)."""

    place_m: Vector
    # how much longer than its neighbours
    length_m: float = 0.0
    stiffness_n_m: float = 5e5
    damping_n_s_m: float = 500.0
    # sideways stiffness over upright stiffness
    side_share: float = 0.5
    friction: float = 0.6


@dataclass(frozen=True)
class Weight:
    """A counterweight (kg) bolted to the tub; ``gap_m`` above zero: it lies loose in its seat."""

    name: str
    mass_kg: float
    place_m: Vector
    gap_m: float = 0.0


@dataclass(frozen=True)
class Tub:
    """The tub without counterweights, drum and load; inertia in kg m2 about its own centre."""

    mass_kg: float
    centre_m: Vector
    inertia_kg_m2: Vector
    weights: tuple[Weight, ...] = ()


@dataclass(frozen=True)
class Drum:
    """The turning drum on its hub, kg and m; ``axis`` points from the hub to the opening."""

    mass_kg: float
    radius_m: float
    depth_m: float
    hub_m: Vector
    axis: Vector
    spin_inertia_kg_m2: float
    # about a cross axis through the drum's own centre
    cross_inertia_kg_m2: float


@dataclass(frozen=True)
class Hub:
    """How the drum support holds the drum; rigid while ``stiffness_n_m_rad`` is zero.

    Two stiffnesses (N m/rad) turn with the drum: an arm of the support that is cracked turns too.
    """

    stiffness_n_m_rad: float = 0.0
    weak_n_m_rad: float = 0.0
    weak_play_rad: float = 0.0
    bearing_play_rad: float = 0.0
    damping_n_m_s_rad: float = 8.0


@dataclass(frozen=True)
class Bearing:
    """Noise of a worn bearing as a force in N at the hub at 1000 rpm; it grows with speed."""

    rough_n: float = 0.0
    tone_n: float = 0.0
    # outer ring of a 6204 (``bench.bearing``); no whole number, so it is no order of the drum
    tone_order: float = 3.05


@dataclass(frozen=True)
class Spring:
    """Coil spring or hanging rod between a cabinet node and a tub node (m, N/m)."""

    name: str
    cabinet_m: Vector
    tub_m: Vector
    stiffness_n_m: float
    free_length_m: float
    solid_length_m: float = 0.05
    damping_n_s_m: float = 0.0
    # a hanging rod goes slack where a coil spring would push
    pulls_only: bool = False


@dataclass(frozen=True)
class Damper:
    """Friction damper: C s + F tanh(s / v) on rigid bushings, N for a speed s in m/s.

    Friction behind an elastic bushing (Dahl) where one is given.
    """

    name: str
    cabinet_m: Vector
    tub_m: Vector
    viscous_n_s_m: float
    friction_n: float
    settling_speed_m_s: float = 0.0015
    bushing_n_m: float = 0.0
    # how hard its pins resist motion along y
    pin_n_m: float = 0.0
    pin_n_s_m: float = 0.0


@dataclass(frozen=True)
class Bellows:
    """Rubber between door opening and tub, N/m along x, y, z; stands for hoses and loom too."""

    place_m: Vector
    stiffness_n_m: Vector
    damping_n_s_m: Vector


@dataclass(frozen=True)
class Stops:
    """Clearance in m between tub and cabinet at both ends of the tub: k d^1.5 + c d' beyond it."""

    ends_m: tuple[Vector, Vector]
    side_m: float
    along_m: float
    down_m: float
    up_m: float
    stiffness_n_m15: float = 2.0e6
    damping_n_s_m: float = 300.0


@dataclass(frozen=True)
class Floor:
    """A floor that gives under all four feet at once; rigid while ``stiffness_n_m`` is zero."""

    mass_kg: float = 0.0
    stiffness_n_m: float = 0.0
    damping_n_s_m: float = 0.0
    # rise per length along x and along y
    slope: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True)
class Unbalance:
    """A mass (kg) off the axis; ``depth_m`` from the hub towards the opening.

    Laundry only turns with the drum once it clings.
    """

    mass_kg: float
    radius_m: float
    depth_m: float
    angle_rad: float = 0.0
    laundry: bool = True


@dataclass(frozen=True)
class Load:
    """Wet laundry in kg, spread evenly, and the unbalance it leaves; ``lumps`` tumble when slow."""

    # counts as a shell on the drum wall once it clings
    mass_kg: float = 0.0
    unbalances: tuple[Unbalance, ...] = ()
    # none: laundry that does not tumble, as in a fit or a what-if
    lumps: int = 0


@dataclass(frozen=True)
class BalanceRing:
    """Liquid ring: above its speed it adds ``added_kg`` to the tub's mass across the axis."""

    added_kg: float = 0.0
    # no drum reaches this: no ring
    engages_rpm: float = 1e9


@dataclass(frozen=True)
class Bolts:
    """Transit bolts left in: stiff ties from cabinet to tub, N/m each."""

    places_m: tuple[Vector, ...] = ()
    stiffness_n_m: float = 2.0e5
    damping_n_s_m: float = 150.0


@dataclass(frozen=True)
class Machine:
    """All of one machine; faults and loads are other values of the same fields."""

    family: str
    cabinet: Cabinet
    # front left, front right, rear left, rear right
    feet: tuple[Foot, Foot, Foot, Foot]
    tub: Tub
    drum: Drum
    springs: tuple[Spring, ...]
    dampers: tuple[Damper, ...]
    stops: Stops
    bellows: tuple[Bellows, ...] = ()
    hub: Hub = field(default_factory=Hub)
    bearing: Bearing = field(default_factory=Bearing)
    load: Load = field(default_factory=Load)
    floor: Floor = field(default_factory=Floor)
    ring: BalanceRing = field(default_factory=BalanceRing)
    bolts: Bolts = field(default_factory=Bolts)
    top_rpm: float = 1200.0

    def with_unbalance(
        self, mass_kg: float, depth_share: float = 0.5, *, laundry: bool = True
    ) -> "Machine":
        """The machine with one unbalance (kg) on the drum wall, and no other.

        ``depth_share`` is its place along the drum, from 0 at the hub to 1 at the opening.
        """
        there = Unbalance(
            mass_kg, self.drum.radius_m, depth_share * self.drum.depth_m, laundry=laundry
        )
        return replace(self, load=replace(self.load, unbalances=(there,)))


# as ``Machine.feet`` counts them
CORNERS = ("front left", "front right", "rear left", "rear right")
