"""Which sources does it rest on? Every reference of the public functions, written once."""

from __future__ import annotations

BIBLIOGRAPHY = (
    "Basu et al., Diabetes 2013;62:4083-4087.",
    "Baysal et al., J Diabetes Sci Technol 2014;8:1091-1096 (PMC4455457).",
    "Benjamini & Bogomolov, J R Stat Soc B 2014;76:297-318, doi 10.1111/rssb.12028.",
    "Benjamini & Hochberg, J R Stat Soc B 1995;57:289-300, doi 10.1111/j.2517-6161.1995.tb02031.x.",
    "Bent et al., npj Digital Medicine 2021; data: BIG IDEAs Lab, version 1.1, PhysioNet.",
    "Bland & Altman, Lancet 1986;327:307-310, doi 10.1016/S0140-6736(86)90837-8.",
    "Boyne et al., Diabetes 2003;52:2790-2794.",
    "CGMacros 1.0.0, PhysioNet, doi 10.13026/3z8q-x658.",
    "Carkeet, Optom Vis Sci 2015;92:e71-e80, doi 10.1097/OPX.0000000000000513.",
    "Cleveland & McGill, J Am Stat Assoc 1984;79:531-554, doi 10.1080/01621459.1984.10478080.",
    "Colas et al., PLoS ONE 2019, doi 10.1371/journal.pone.0225817.",
    "Danne et al., Diabetes Care 2017;40:1631-1640, doi 10.2337/dc17-1600.",
    "FAO Food and Nutrition Paper 66 (1998), chapter 4.",
    "Fokkema et al., Clin Chem 2006;52:1602.",
    "Freckmann et al., J Diabetes Sci Technol 2007;1:695-703.",
    "Hengist et al., Am J Clin Nutr 2025;121:74 (PMC10371100).",
    "ISO 15197:2013, in vitro diagnostic test systems.",
    "ISO 26642:2010, food products: determination of the glycaemic index.",
    "Kratochwill & Levin, Psychol Methods 2010;15:124, doi 10.1037/a0017736.",
    "Prohaska et al., Pure Appl Chem 2022;94:573-600, doi 10.1515/pac-2019-0603.",
    "Satterthwaite, Biometrics Bulletin 1946;2:110-114, doi 10.2307/3002019.",
    "Shah et al., J Clin Endocrinol Metab 2019;104:4356-4364.",
    "Staal et al., Biosensors 2018;8:93.",
    "Tudor-Locke et al., Prev Med 2011, doi 10.1016/j.ypmed.2011.06.004.",
    "Vohra et al., BMJ 2015;350:h1738.",
    "Welch, Biometrika 1947;34:28-35, doi 10.1093/biomet/34.1-2.28.",
    "Wyatt et al., Nat Metab 2021;3:523-529.",
    "Zschornack et al., 2013 (PMC3879745).",
)
"""In order of the alphabet; docstrings quote them word for word, and tests hold them to it. The DOIs of Benjamini,
Bland, Cleveland, Danne, Prohaska, Satterthwaite, Tudor-Locke and Welch are from memory."""
