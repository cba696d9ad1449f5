"""The publications that the methods and their tests cite by author and year.

Where a docstring gives volume and page, or a chapter, they are of the publication listed here.
'From memory' marks what was not looked up again.
"""

from __future__ import annotations

from collections.abc import Mapping

SOURCES: Mapping[str, str] = {
    "Bailey 2008": "Design of Comparative Experiments. Cambridge University Press.",
    "Bentler & Woodward 1980": "Psychometrika 45:249.",
    "Berrut & Trefethen 2004": "Barycentric Lagrange interpolation. SIAM Review 46:501.",
    "Bland & Altman 1996": "Statistics notes. British Medical Journal 312:1079 and 312:1153.",
    "Box 1954": "Annals of Mathematical Statistics 25:290.",
    "Boyd & Vandenberghe 2004": "Convex Optimization. Cambridge University Press.",
    "Breslow 1984": "Extra-Poisson variation in log-linear models. Applied Statistics 33:38.",
    "Bridges 1989": "Analysis of a plant breeding experiment with heterogeneous variances using "
    "mixed model equations. In: Applications of Mixed Models in Agriculture and Related "
    "Disciplines, Southern Cooperative Series Bulletin, 45-51.",
    "Brown & Forsythe 1974": "Tests for the equality of variances. Journal of the American "
    "Statistical Association 69:364; and, on means, Biometrics 30:719.",
    "Brunner, Dette & Munk 1997": "Box-type approximations in nonparametric factorial designs. "
    "Journal of the American Statistical Association 92:1494.",
    "Chow 1960": "Econometrica 28:591.",
    "Clewer & Scarisbrick 2001": "Practical Statistics and Experimental Design for Plant and Crop "
    "Science. Wiley.",
    "Clopper & Pearson 1934": "Biometrika 26:404.",
    "Cochran & Cox 1957": "Experimental Designs, 2nd edition. Wiley.",
    "Cochran 1977": "Sampling Techniques, 3rd edition. Wiley.",
    "Cohen 1988": "Statistical Power Analysis for the Behavioral Sciences, 2nd edition. Erlbaum.",
    "Cook & Weisberg 1982": "Residuals and Influence in Regression. Chapman and Hall.",
    "Cox & Snell 1989": "Analysis of Binary Data, 2nd edition. Chapman and Hall.",
    "Cullis, Smith & Coombes 2006": "On the design of early generation variety trials with "
    "correlated data. Journal of Agricultural, Biological and Environmental Statistics 11:381.",
    "Damerau 1964": "Communications of the ACM 7:171.",
    "Dantzig 1963": "Linear Programming and Extensions. Princeton University Press.",
    "David & Nagaraja 2003": "Order Statistics, 3rd edition. Wiley.",
    "Davis & Rabinowitz 1984": "Methods of Numerical Integration, 2nd edition. Academic Press.",
    "Davison & Hinkley 1997": "Bootstrap Methods and their Application. Cambridge University "
    "Press.",
    "Deak 1980": "Numerische Mathematik 35:369.",
    "DeGroot 1970": "Optimal Statistical Decisions. McGraw-Hill.",
    "Dunnett 1955": "A multiple comparison procedure for comparing several treatments with a "
    "control. Journal of the American Statistical Association 50:1096.",
    "Dunnett 1964": "New tables for multiple comparisons with a control. Biometrics 20:482.",
    "Durstenfeld 1964": "Algorithm 235: random permutation. Communications of the ACM 7:420.",
    "Edgington & Onghena 2007": "Randomization Tests, 4th edition. Chapman and Hall.",
    "Ellis & Roberts 1980": "Improved equations for the prediction of seed longevity. Annals of "
    "Botany 45:13.",
    "Fai & Cornelius 1996": "Journal of Statistical Computation and Simulation 54:363.",
    "Federer & Raghavarao 1975": "On augmented designs. Biometrics 31:29.",
    "Feller 1968": "An Introduction to Probability Theory and Its Applications, volume 1, 3rd "
    "edition. Wiley.",
    "Fieller 1954": "Journal of the Royal Statistical Society B 16:175.",
    "Fisher 1925": "Statistical Methods for Research Workers. Oliver and Boyd.",
    "Fisher 1935": "The Design of Experiments. Oliver and Boyd.",
    "Freedman & Lane 1983": "A nonstochastic interpretation of reported significance levels. "
    "Journal of Business and Economic Statistics 1:292.",
    "Garwood 1936": "Fiducial limits for the Poisson distribution. Biometrika 28:437.",
    "Gelman 2006": "Prior distributions for variance parameters in hierarchical models. Bayesian "
    "Analysis 1:515.",
    "Genz & Bretz 2009": "Computation of Multivariate Normal and t Probabilities. Springer.",
    "Gilmour, Thompson & Cullis 1995": "Average information REML. Biometrics 51:1440.",
    "Golub & Welsch 1969": "Calculation of Gauss quadrature rules. Mathematics of Computation "
    "23:221.",
    "Gomez & Gomez 1984": "Statistical Procedures for Agricultural Research, 2nd edition. Wiley.",
    "Gramm, Guo, Hüffner, Niedermeier, Piepho & Schmid 2007": "Computational Statistics and Data "
    "Analysis 52:725.",
    "Grubbs 1948": "On estimating precision of measuring instruments and product variability. "
    "Journal of the American Statistical Association 43 (from memory).",
    "Hanley & Lippman-Hand 1983": "If nothing goes wrong, is everything all right? Journal of the "
    "American Medical Association 249:1743.",
    "Hartley 1942": "Biometrika 32:334.",
    "Hayter 1984": "Annals of Statistics 12:61.",
    "Henderson 1953": "Estimation of variance and covariance components. Biometrics 9:226.",
    "Henderson 1975": "Best linear unbiased estimation and prediction under a selection model. "
    "Biometrics 31:423.",
    "Hickernell 2002": "In: Monte Carlo and Quasi-Monte Carlo Methods in Scientific Computing, "
    "page 274. Springer.",
    "Higgins, Thompson & Spiegelhalter 2009": "A re-evaluation of random-effects meta-analysis. "
    "Journal of the Royal Statistical Society A 172:137.",
    "Hitchcock 1941": "The distribution of a product from several sources to numerous localities. "
    "Journal of Mathematics and Physics 20:224.",
    "Hochberg & Tamhane 1987": "Multiple Comparison Procedures. Wiley.",
    "Hsu 1984": "Constrained simultaneous confidence intervals for multiple comparisons with the "
    "best. Annals of Statistics 12:1136.",
    "Hsu 1996": "Multiple Comparisons: Theory and Methods. Chapman and Hall.",
    "Hurlbert 1984": "Pseudoreplication and the design of ecological field experiments. "
    "Ecological Monographs 54:187.",
    "Immer, Hayes & Powers 1934": "Statistical determination of barley varietal adaptation. "
    "Journal of the American Society of Agronomy 26:403-419.",
    "James & Wilkinson 1971": "Biometrika 58:279.",
    "Jarrett 1977": "Biometrika 64:67.",
    "Johansen 1980": "Biometrika 67:85.",
    "John & Williams 1995": "Cyclic and Computer Generated Designs, 2nd edition. Chapman and Hall.",
    "Johnson, Kotz & Balakrishnan 1995": "Continuous Univariate Distributions 2, 2nd edition. "
    "Wiley.",
    "Kenward & Roger 1997": "Small sample inference for fixed effects from restricted maximum "
    "likelihood. Biometrics 53:983-997.",
    "Kramer 1956": "Extension of multiple range tests to group means with unequal numbers of "
    "replications. Biometrics 12:307.",
    "Lidl & Niederreiter 1997": "Finite Fields, 2nd edition. Cambridge University Press.",
    "Mahy, Van Eycken & Oosterlinck 1994": "Evaluation of uniform color spaces developed after the "
    "adoption of CIELAB and CIELUV. Color Research and Application 19:105. From memory.",
    "McCullagh & Nelder 1989": "Generalized Linear Models, 2nd edition. Chapman and Hall.",
    "Mead, Curnow & Hasted 1993": "Statistical Methods in Agriculture and Experimental Biology, "
    "2nd edition. Chapman and Hall.",
    "Mehrotra 1997": "Improving the Brown-Forsythe solution to the generalized Behrens-Fisher "
    "problem. Communications in Statistics - Simulation and Computation 26 (from memory).",
    "Miles 1963": "Handbook of tolerances. Proceedings of the International Seed Testing "
    "Association 28:525.",
    "Milliken & Johnson 2009": "Analysis of Messy Data 1: Designed Experiments, 2nd edition. CRC "
    "Press.",
    "Nelder 1954": "The interpretation of negative components of variance. Biometrika 41:544.",
    "Nelder 1965": "The analysis of randomized experiments with orthogonal block structure. "
    "Proceedings of the Royal Society A 283:147 and 283:163.",
    "Nuyens & Cools 2006": "Fast algorithms for component-by-component construction of rank-1 "
    "lattice rules. Mathematics of Computation 75:903.",
    "O'Neill 2014": "PCG: a family of simple fast space-efficient statistically good algorithms "
    "for random number generation. Harvey Mudd College HMC-CS-2014-0905.",
    "Onofri & Ciriciofolo 2007": "Using R to perform the AMMI analysis on agriculture variety "
    "trials. R News 7:14-19.",
    "Papoutsoglou et al. 2020": "Enabling reusability of plant phenomic datasets with MIAPPE 1.1. "
    "New Phytologist 227:260.",
    "Patterson & Thompson 1971": "Recovery of inter-block information when block sizes are "
    "unequal. Biometrika 58:545.",
    "Patterson & Williams 1976": "A new class of resolvable incomplete block designs. Biometrika "
    "63:83.",
    "Pearson & Hartley 1966": "Biometrika Tables for Statisticians 1, 3rd edition. Cambridge "
    "University Press.",
    "Petersen 1994": "Agricultural Field Experiments: Design and Analysis. Marcel Dekker.",
    "Piepho 1997": "Analysis of a randomized block design with unequal subclass numbers. Agronomy "
    "Journal 89 (title and volume from memory).",
    "Piepho 2004": "An algorithm for a letter-based representation of all-pairwise comparisons. "
    "Journal of Computational and Graphical Statistics 13:456.",
    "Piepho, Möhring, Melchinger & Büchse 2008": "BLUP for phenotypic selection in plant breeding "
    "and variety testing. Euphytica 161:209.",
    "Piepho, Möhring, Schulz-Streeck & Ogutu 2012": "A stage-wise approach for the analysis of "
    "multi-environment trials. Biometrical Journal 54:844.",
    "Plackett 1954": "A reduction formula for normal multivariate integrals. Biometrika 41:351.",
    "Raiffa & Schlaifer 1961": "Applied Statistical Decision Theory. Harvard University.",
    "Robinson 1991": "That BLUP is a good thing: the estimation of random effects. Statistical "
    "Science 6:15.",
    "Rockafellar & Uryasev 2000": "Optimization of conditional value-at-risk. Journal of Risk "
    "2:21.",
    "Royston 1995": "Remark AS R94: a remark on algorithm AS 181. Applied Statistics 44:547.",
    "Satterthwaite 1946": "An approximate distribution of estimates of variance components. "
    "Biometrics Bulletin 2:110.",
    "Scheffe 1959": "The Analysis of Variance. Wiley.",
    "Schmidt, Hartung, Bennewitz & Piepho 2019": "Heritability in plant breeding on a "
    "genotype-difference basis. Genetics 212:991.",
    "Schuirmann 1987": "A comparison of the two one-sided tests procedure and the power approach "
    "for assessing the equivalence of average bioavailability. Journal of Pharmacokinetics and "
    "Biopharmaceutics 15:657.",
    "Searle 1987": "Linear Models for Unbalanced Data. Wiley.",
    "Searle, Casella & McCulloch 1992": "Variance Components. Wiley.",
    "Shukla 1972": "Some statistical aspects of partitioning genotype-environmental components of "
    "variability. Heredity 29:237.",
    "Smith 1938": "An empirical law describing heterogeneity in the yields of agricultural crops. "
    "Journal of Agricultural Science 28:1.",
    "Smith, Cullis & Gilmour 2001": "Australian and New Zealand Journal of Statistics 43:129.",
    "Smyth 2004": "Statistical Applications in Genetics and Molecular Biology 3(1), article 3.",
    "Smith, Cullis & Thompson 2005": "The analysis of crop cultivar breeding and evaluation "
    "trials. Journal of Agricultural Science 143:449.",
    "Snedecor & Cochran 1989": "Statistical Methods, 8th edition. Iowa State University Press.",
    "Stroup 2013": "Generalized Linear Mixed Models. CRC Press.",
    "Student 1908": "The probable error of a mean. Biometrika 6:1.",
    "Tukey 1953": "The Problem of Multiple Comparisons. Manuscript, Princeton University.",
    "Van Slyke & Wets 1969": "L-shaped linear programs with applications to optimal control and "
    "stochastic programming. SIAM Journal on Applied Mathematics 17:638.",
    "Verhoeff 1969": "Error Detecting Decimal Codes. Mathematical Centre, Amsterdam.",
    "Welch 1938": "The significance of the difference between two means when the population "
    "variances are unequal. Biometrika 29:350.",
    "Westfall & Young 1993": "Resampling-Based Multiple Testing. Wiley.",
    "Wilson 1927": "Journal of the American Statistical Association 22:209.",
    "Wolsey 1998": "Integer Programming. Wiley.",
    "Yates 1935": "Complex experiments. Supplement to the Journal of the Royal Statistical "
    "Society 2:181.",
    "Yates 1936": "Incomplete randomized blocks. Annals of Eugenics 7:121.",
}
