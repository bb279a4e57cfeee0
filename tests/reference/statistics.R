# Reference numbers for robust regression, influence, Durbin-Watson, normality, equal spread, AICc and nested F tests.
# Made with R 4.2.2 with MASS, lmtest and base stats. No random numbers.
# Run in this folder: Rscript statistics.R > statistics.csv      Columns: test, key, value.
suppressMessages({library(MASS); library(lmtest)})
emit <- function(test, key, value) cat(sprintf("%s,%s,%.17g\n", test, key, value), sep = "")
cat("test,key,value\n")
published <- "../published"
young <- read.csv(file.path(published, "natrella-1963/youngs_modulus.csv"))
line <- read.csv(file.path(published, "e-handbook/linewidth_calibration.csv"))
longley <- read.csv(file.path(published, "nist-strd-1998/Longley.csv"))
norris <- read.csv(file.path(published, "nist-strd-1998/Norris.csv"))
pressure <- read.csv(file.path(published, "e-handbook/pressure_temperature.csv"))
pins <- read.csv(file.path(published, "e-handbook/machined_pins.csv"))
rosner <- read.csv(file.path(published, "rosner-1983/values.csv"))$y

fits <- list(natrella = lm(y ~ x, young), norris = lm(y ~ x, norris), longley = lm(y ~ ., longley),
             pressure = lm(pressure ~ temperature, pressure), linewidth = lm(y ~ x, line),
             "norris-cubic" = lm(y ~ poly(x, 3), norris))
for (name in names(fits)) {
  fit <- fits[[name]]
  emit(paste0("student-", name), seq_along(resid(fit)), rstudent(fit))
  emit(paste0("cook-", name), seq_along(resid(fit)), cooks.distance(fit))
  emit(paste0("hat-", name), seq_along(resid(fit)), hatvalues(fit))
  for (side in c("greater", "less")) {
    test <- dwtest(fit, alternative = side, exact = TRUE, tol = 1e-14)
    emit(paste0("dw-", name), side, test$p.value)
  }
  emit(paste0("dw-", name), "statistic", dwtest(fit)$statistic)
  k <- length(coef(fit)) + 1; n <- length(resid(fit))
  emit(paste0("aicc-", name), "value", AIC(fit) + 2 * k * (k + 1) / (n - k - 1))
  sw <- shapiro.test(resid(fit))
  emit(paste0("shapiro-", name), "W", sw$statistic); emit(paste0("shapiro-", name), "p", sw$p.value)
}
nested <- anova(lm(y ~ x, norris), lm(y ~ poly(x, 3), norris))
emit("nested-norris", "F", nested$F[2]); emit("nested-norris", "p", nested[["Pr(>F)"]][2])
line$w <- 1 + seq_len(nrow(line)) %% 3
lack <- anova(lm(y ~ x, line, weights = w), lm(y ~ factor(x), line, weights = w))
emit("weighted-lack-linewidth", "F", lack$F[2]); emit("weighted-lack-linewidth", "p", lack[["Pr(>F)"]][2])
weighted <- lm(y ~ x, norris, weights = 1 / (1 + x))
emit("weighted-norris", c("b0", "b1"), coef(weighted))
emit("weighted-norris", c("se0", "se1"), coef(summary(weighted))[, 2])
emit("weighted-norris", "sigma", summary(weighted)$sigma)
emit("weighted-student", seq_along(resid(weighted)), rstudent(weighted))
emit("weighted-cook", seq_along(resid(weighted)), cooks.distance(weighted))

robust <- function(name, formula, data) {
  huber <- rlm(formula, data, psi = psi.huber, k = 1.345, acc = 1e-13, maxit = 2000)
  tukey <- rlm(formula, data, psi = psi.bisquare, c = 4.685, init = coef(huber), acc = 1e-13, maxit = 2000)
  for (pair in list(list("huber", huber), list("tukey", tukey))) {
    table <- coef(summary(pair[[2]]))
    emit(paste0(pair[[1]], "-", name), paste0("b", seq_len(nrow(table)) - 1), table[, 1])
    emit(paste0(pair[[1]], "-", name), paste0("se", seq_len(nrow(table)) - 1), table[, 2])
    emit(paste0(pair[[1]], "-", name), "scale", pair[[2]]$s)
  }
}
robust("natrella", y ~ x, young)
robust("pressure", pressure ~ temperature, pressure)
robust("linewidth", y ~ x, line)
spoilt <- norris; spoilt$y[c(3, 17)] <- spoilt$y[c(3, 17)] + c(400, -250)
robust("spoilt", y ~ x, spoilt)

for (n in c(3, 4, 5, 6, 11, 12, 20, 54)) {
  sw <- shapiro.test(rosner[seq_len(n)])
  emit(paste0("shapiro-first-", n), "W", sw$statistic); emit(paste0("shapiro-first-", n), "p", sw$p.value)
}
brown <- function(name, y, g) {
  z <- abs(y - ave(y, g, FUN = median))
  table <- anova(lm(z ~ factor(g)))
  emit(paste0("brown-", name), "F", table$F[1]); emit(paste0("brown-", name), "p", table[["Pr(>F)"]][1])
}
brown("pins", pins$y, pins$machine)
