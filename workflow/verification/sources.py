"""Where the references of the verification programme come from, and how sure we are of them."""

from __future__ import annotations

from dataclasses import dataclass

READ = "read"
QUOTED = "read in a quotation"
MEMORY = "from memory"
DERIVED = "derived"


@dataclass(frozen=True)
class Source:
    """A published source, a law, or a derivation of our own.

    Attributes
    ----------
    text
        Author, year, title or journal.
    certainty
        How the number reached us: read in the source; read where another quotes it; from memory;
        derived independently of this project's code.
    """

    text: str
    certainty: str


SOURCES: dict[str, Source] = {
    "exact": Source("Exact solution of the equations of linear elasticity", DERIVED),
    "statics": Source("Equilibrium of forces and moments on a free body", DERIVED),
    "betti": Source("Betti 1872, reciprocal theorem", MEMORY),
    "castigliano": Source("Castigliano 1879, theorem on strain energy (unit-load method)", MEMORY),
    "mms": Source("Method of manufactured solutions (Roache 2002, J. Fluids Eng. 124:4)", MEMORY),
    "irons": Source("Irons & Razzaque 1972: patch test", MEMORY),
    "babuska_suri": Source("Babuška & Suri 1992, Numer. Math. 62:439: locking effects", MEMORY),
    "clapeyron": Source("Clapeyron's theorem: the strain energy is half the load's work", MEMORY),
    "winkler_layer": Source(
        "Winkler's foundation on cylinder, hemisphere and capsule, closed integrals", DERIVED
    ),
    "gent_lindley": Source(
        "Gent & Lindley 1959: bonded blocks; digits by axisymmetric elements of high order",
        DERIVED,
    ),
    "calculus": Source("Finite differences of the same function", DERIVED),
    "objectivity": Source("Objectivity: a rigid motion changes no strain", DERIVED),
    "saint_venant": Source("Saint-Venant 1855, torsion of prisms, series solution", DERIVED),
    "timoshenko_goodier": Source(
        "Timoshenko & Goodier, Theory of Elasticity, table of torsion constants", MEMORY
    ),
    "cowper": Source("Cowper 1966, J. Appl. Mech. 33:335, shear coefficients", MEMORY),
    "beam": Source("Euler–Bernoulli and Timoshenko beam theory", DERIVED),
    "roark": Source("Roark's Formulas for Stress and Strain, curved beams", MEMORY),
    "love": Source(
        "Love, Mathematical Theory of Elasticity, helical springs (Kirchhoff rods)", MEMORY
    ),
    "bisshopp_drucker": Source(
        "Bisshopp & Drucker 1945, Q. Appl. Math. 3:272; Mattiasson 1981, IJNME 17:145", QUOTED
    ),
    "follower": Source("Elliptic integrals of the follower load, evaluated to 12 digits", DERIVED),
    "peg": Source(
        "Elliptic integrals of a beam on a frictionless peg, evaluated to 11 digits", DERIVED
    ),
    "nafems_r0015": Source("NAFEMS R0015, selected benchmarks LE1 and LE10", QUOTED),
    "macneal_harder": Source("MacNeal & Harder 1985, Finite Elem. Anal. Des. 1:3", QUOTED),
    "spectral": Source("High-order spectral solution of the same problem, p up to 10", DERIVED),
    "cook": Source("Cook's membrane (Cook et al. 1989, Concepts and Applications of FEA)", QUOTED),
    "lame": Source("Lamé 1852, thick cylinder and sphere under pressure", DERIVED),
    "adkins_gent": Source("Adkins & Gent 1954, Hill 1975: bonded bushes", DERIVED),
    "bush_fourier": Source(
        "Fourier finite elements of high order, bonded bush with free ends", DERIVED
    ),
    "shell_exact": Source(
        "Exact displacement field of a rigid sphere in a bonded concentric shell", DERIVED
    ),
    "stokes": Source("Stokes: slow flow between rotating spheres, as an analogy", MEMORY),
    "auricchio": Source(
        "Auricchio & Taylor 1997, Auricchio 2001: superelastic law and constants", QUOTED
    ),
    "plastic_bending": Source(
        "Moment and springback of an elastic–perfectly plastic beam, by quadrature", DERIVED
    ),
    "neal": Source("Neal, Plastic Methods of Structural Analysis, table of shape factors", QUOTED),
    "gardiner": Source("Gardiner 1957, springback in bending", MEMORY),
    "celik": Source("Celik et al. 2008, J. Fluids Eng. 130:078001", QUOTED),
    "roache_nparc": Source("NASA/NPARC tutorial on grid convergence (Roache)", READ),
    "loncaric": Source(
        "Loncaric 1987; Patterson & Lipkin 1993: centres of stiffness and compliance", DERIVED
    ),
    "chasles": Source("Chasles 1830: every motion is a screw", DERIVED),
    "provatidis": Source(
        "Thin-layer theory of a paraboloid of revolution (family of Provatidis; Van Schepdael)",
        DERIVED,
    ),
    "burstone_1962": Source(
        "Burstone 1962; Christiansen & Burstone 1969: planar parabolic root", MEMORY
    ),
    "naegerl": Source(
        "Nägerl et al. 1991, AJODO 99:337; Choy et al. 2000, AJODO 117:98: a·b = σ²", READ
    ),
    "burstone_koenig": Source(
        "Burstone & Koenig 1974, Am. J. Orthod. 65:270: six classes of two couples", MEMORY
    ),
    "exercise": Source(
        "Worked exercise in statics, discoverortho.com 2019, with its slip of the pen corrected",
        READ,
    ),
    "burstone_1981": Source(
        "Burstone 1981, Am. J. Orthod. 80:1: cross-section and wire stiffness numbers", MEMORY
    ),
    "rucker_kusy": Source("Rucker & Kusy 2002, AJODO 122:528: bevels of rectangular wire", READ),
    "papageorgiou_play": Source(
        "Papageorgiou et al. 2016, Prog. Orthod. 17:5, table 6: nominal play", READ
    ),
    "proffit": Source("Proffit, Contemporary Orthodontics, mechanical principles", MEMORY),
    "sectionproperties": Source(
        "sectionproperties, an independent library for cross-sections", DERIVED
    ),
    "ngsolve": Source("NGSolve, an independent finite-element library", DERIVED),
    "felupe": Source("FElupe, an independent finite-element library", DERIVED),
    "scikit_fem": Source(
        "scikit-fem with its own default quadrature, and a direct solver of SciPy", DERIVED
    ),
    "jepsen": Source("Jepsen 1963, Acta Odontol. Scand. 21:35: root surface areas", MEMORY),
    "mowry": Source("Mowry et al. 2002, J. Periodontol. 73:1095: root surface areas", READ),
    "poppe": Source("Poppe, Bourauel & Jäger 2002, J. Orofac. Orthop. 63:358", READ),
    "jones": Source("Jones et al. 2001, J. Orthod. 28:29: initial movement of incisors", READ),
    "oh": Source("Oh et al. 2019, AJODO 156:365: centres of resistance of lower molars", READ),
    "yoshida": Source(
        "Yoshida et al. 2001, AJODO 120:190: centre of resistance in the mouth", READ
    ),
    "iwasaki": Source("Iwasaki et al. 2000, AJODO 117:175: canine translation", READ),
    "janakiraman": Source(
        "Janakiraman et al., Angle Orthod.: tip-back with one couple, 16 patients", READ
    ),
    "geramy": Source("Geramy 2000, AJODO 117:399: loss of alveolar bone", READ),
    "frame": Source("Linear frame elements, an independent program", DERIVED),
    "winkler": Source("Winkler 1867, curved beams", MEMORY),
    "michell_goehner": Source(
        "Michell 1899, Göhner 1932: close-coiled spring of thick wire", DERIVED
    ),
    "euler": Source("Euler 1744, a beam under an end moment bends to a circle", MEMORY),
    "coulomb": Source(
        "Coulomb's law of friction with the elastica under an inclined force, by quadrature",
        DERIVED,
    ),
    "pappus": Source("Pappus, volume of a swept body", MEMORY),
    "iso_15841": Source("ISO 15841, three-point bending of orthodontic wires, span 10 mm", MEMORY),
    "burstone_goldberg": Source(
        "Burstone & Goldberg 1980, US patent 4,197,643 (expired): titanium–molybdenum beside steel",
        READ,
    ),
    "masing": Source("Masing 1926, unloading branches are the first loading doubled", MEMORY),
    "prager_hodge": Source(
        "Prager & Hodge 1951, Theory of Perfectly Plastic Solids: cantilever past yield", MEMORY
    ),
    "superelastic_quadrature": Source(
        "Moment of a superelastic section, quadrature to 1e-8 of the piecewise linear law", DERIVED
    ),
    "law_by_hand": Source("The uniaxial law's own lines, evaluated by hand", DERIVED),
    "section_geometry": Source("Areas and second moments of squares and circles", DERIVED),
    "arc_geometry": Source("Geometry of circular arcs", DERIVED),
    "slot_geometry": Source("A rectangle turned between parallel walls, plane geometry", DERIVED),
    "shooting": Source(
        "Large rotation of a wire with a closed moment–curvature law, by shooting", DERIVED
    ),
    "matrix_exponential": Source("Matrix exponential of SciPy, scipy.linalg.expm", DERIVED),
    "coulomb_slope": Source(
        "Coulomb's law of friction on an inclined bar, with small-deflection beam theory", DERIVED
    ),
    "przemieniecki": Source(
        "Przemieniecki 1968, Theory of Matrix Structural Analysis, beams with shear", MEMORY
    ),
    "v_bend": Source(
        "Burstone & Koenig 1988, AJODO 93:59; Ronay et al. 1989, AJODO 96:295: V-bends", MEMORY
    ),
    "course_law": Source(
        "Kinematics of a rigid body that moves on in proportion to its initial movement", DERIVED
    ),
    "hooke": Source("Hooke 1678, springs in series", MEMORY),
    "runge_kutta": Source("Runge 1895, Kutta 1901: order of one-step rules", MEMORY),
    "papageorgiou_2005": Source(
        "Papageorgiou 2005, Hell. Orthod. Rev. 8: review of centres of resistance", READ
    ),
    "burstone_pryputniewicz": Source(
        "Burstone & Pryputniewicz 1980, Am. J. Orthod. 77:396: laser holography", MEMORY
    ),
    "tanne": Source("Tanne, Koenig & Burstone 1988, AJODO 94:426: finite elements", MEMORY),
    "choy": Source("Choy et al. 2000, AJODO 117:98: bone loss of a planar root", READ),
    "picton": Source("Picton 1963, Arch. Oral Biol. 8:109: axial movement of teeth", READ),
    "parfitt": Source("Parfitt 1960, J. Dent. Res. 39:608: axial mobility of incisors", MEMORY),
    "odegaard": Source("Ødegaard, Meling & Meling 1994, AJODO 105:392: play of wires", READ),
    "meling": Source(
        "Meling et al. 1997, AJODO 111:310; 1998, AJODO 113:387: torsion in slots, real slots", READ
    ),
    "van_steenbergen": Source(
        "van Steenbergen et al. 2005, Angle Orthod. 75:723: intrusion of incisors", READ
    ),
}
