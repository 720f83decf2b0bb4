"""The 88 constellations and the Greek letters, for writing and reading star designations."""

from __future__ import annotations

# Abbreviation, name, genitive: IAU (1922, 1930). From memory, checked against d3-celestial's
# constellations.json, which has three wrong genitives (CrA, Cru and the two halves of Ser).
_TABLE = """\
And Andromeda/Andromedae Ant Antlia/Antliae Aps Apus/Apodis Aqr Aquarius/Aquarii
Aql Aquila/Aquilae Ara Ara/Arae Ari Aries/Arietis Aur Auriga/Aurigae Boo Boötes/Boötis
Cae Caelum/Caeli Cam Camelopardalis/Camelopardalis Cnc Cancer/Cancri
CVn Canes_Venatici/Canum_Venaticorum CMa Canis_Major/Canis_Majoris CMi Canis_Minor/Canis_Minoris
Cap Capricornus/Capricorni Car Carina/Carinae Cas Cassiopeia/Cassiopeiae Cen Centaurus/Centauri
Cep Cepheus/Cephei Cet Cetus/Ceti Cha Chamaeleon/Chamaeleontis Cir Circinus/Circini
Col Columba/Columbae Com Coma_Berenices/Comae_Berenices
CrA Corona_Australis/Coronae_Australis CrB Corona_Borealis/Coronae_Borealis Crv Corvus/Corvi
Crt Crater/Crateris Cru Crux/Crucis Cyg Cygnus/Cygni Del Delphinus/Delphini Dor Dorado/Doradus
Dra Draco/Draconis Equ Equuleus/Equulei Eri Eridanus/Eridani For Fornax/Fornacis
Gem Gemini/Geminorum Gru Grus/Gruis Her Hercules/Herculis Hor Horologium/Horologii
Hya Hydra/Hydrae Hyi Hydrus/Hydri Ind Indus/Indi Lac Lacerta/Lacertae Leo Leo/Leonis
LMi Leo_Minor/Leonis_Minoris Lep Lepus/Leporis Lib Libra/Librae Lup Lupus/Lupi Lyn Lynx/Lyncis
Lyr Lyra/Lyrae Men Mensa/Mensae Mic Microscopium/Microscopii Mon Monoceros/Monocerotis
Mus Musca/Muscae Nor Norma/Normae Oct Octans/Octantis Oph Ophiuchus/Ophiuchi Ori Orion/Orionis
Pav Pavo/Pavonis Peg Pegasus/Pegasi Per Perseus/Persei Phe Phoenix/Phoenicis Pic Pictor/Pictoris
Psc Pisces/Piscium PsA Piscis_Austrinus/Piscis_Austrini Pup Puppis/Puppis Pyx Pyxis/Pyxidis
Ret Reticulum/Reticuli Sge Sagitta/Sagittae Sgr Sagittarius/Sagittarii Sco Scorpius/Scorpii
Scl Sculptor/Sculptoris Sct Scutum/Scuti Ser Serpens/Serpentis Sex Sextans/Sextantis
Tau Taurus/Tauri Tel Telescopium/Telescopii Tri Triangulum/Trianguli
TrA Triangulum_Australe/Trianguli_Australis Tuc Tucana/Tucanae UMa Ursa_Major/Ursae_Majoris
UMi Ursa_Minor/Ursae_Minoris Vel Vela/Velorum Vir Virgo/Virginis Vol Volans/Volantis
Vul Vulpecula/Vulpeculae
"""

_words = _TABLE.split()
#: Abbreviation -> (name, genitive).
CONSTELLATIONS: dict[str, tuple[str, str]] = {}
for _abbreviation, _pair in zip(_words[::2], _words[1::2], strict=True):
    _name, _genitive = _pair.replace("_", " ").split("/")
    CONSTELLATIONS[_abbreviation] = (_name, _genitive)

#: Greek letter -> (three-letter form, full English name).
GREEK: dict[str, tuple[str, str]] = {
    "α": ("alf", "alpha"), "β": ("bet", "beta"), "γ": ("gam", "gamma"), "δ": ("del", "delta"),
    "ε": ("eps", "epsilon"), "ζ": ("zet", "zeta"), "η": ("eta", "eta"), "θ": ("tet", "theta"),
    "ι": ("iot", "iota"), "κ": ("kap", "kappa"), "λ": ("lam", "lambda"), "μ": ("mu", "mu"),
    "ν": ("nu", "nu"), "ξ": ("ksi", "xi"), "ο": ("omi", "omicron"), "π": ("pi", "pi"),
    "ρ": ("rho", "rho"), "σ": ("sig", "sigma"), "τ": ("tau", "tau"), "υ": ("ups", "upsilon"),
    "φ": ("phi", "phi"), "χ": ("chi", "chi"), "ψ": ("psi", "psi"), "ω": ("ome", "omega"),
}  # fmt: skip

#: Other spellings of a Greek letter that people type.
GREEK_OTHER = {
    "alp": "α", "the": "θ", "mi": "μ", "ni": "ν", "omg": "ω", "omicr": "ο", "upsi": "υ",
    "khi": "χ",
}  # fmt: skip
