# Models of the logs that make.py wrote; run: Rscript models.R   (writes models.json). The spread between passes by restricted maximum likelihood (lme4);
# robust tapers by Tukey's bisquare begun at Huber's fit (MASS), a slope and a bend a direction.
# Degrees of freedom: Satterthwaite with the expected information, from explicit n x n matrices, which is what the program does.
suppressMessages({library(lme4); library(MASS)})
all <- read.csv("log.csv", na.strings = character())
laid_out <- function(name) {
  rows <- all[all$log == name, ]
  rows$w <- ifelse(rows$gauge == "coarse", 0.25, 1)
  rows$x <- (2 * rows$station - min(rows$station) - max(rows$station)) / (max(rows$station) - min(rows$station))
  rows$p2 <- 1.5 * rows$x^2 - 0.5
  rows$y <- rows$diameter - 43
  ways <- unique(rows$direction)
  for (i in seq_along(ways)) { rows[[paste0("x", i)]] <- rows$x * (rows$direction == ways[i]); rows[[paste0("q", i)]] <- rows$p2 * (rows$direction == ways[i]) }
  rows
}
robust <- function(name) {
  rows <- laid_out(name); ways <- seq_along(unique(rows$direction)); passes <- unique(rows$pass)
  X <- sqrt(rows$w) * as.matrix(cbind(outer(rows$pass, passes, "=="), rows[, c(paste0("x", ways), paste0("q", ways))])); y <- sqrt(rows$w) * rows$y
  huber <- rlm(X, y, psi = psi.huber, k = 1.345, maxit = 5000, acc = 1e-11)
  tukey <- rlm(X, y, psi = psi.bisquare, c = 4.685, init = coef(huber), maxit = 5000, acc = 1e-11)
  sprintf('"%s": %.12g', name, 2 * mean(coef(tukey)[length(passes) + ways]))
}
report <- function(name) {
  rows <- laid_out(name); ways <- unique(rows$direction); bent <- length(unique(rows$station)) > 2
  terms <- c(paste0("x", seq_along(ways)), if (bent) paste0("q", seq_along(ways)))
  random <- if (bent) "(0 + x | pass) + (0 + p2 | pass)" else "(0 + x | pass)"
  fit <- lmer(as.formula(paste("y ~ 0 + factor(pass) +", paste(terms, collapse = " + "), "+", random)), data = rows, REML = TRUE, weights = w,
              control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-12)))
  fe <- fixef(fit); vc <- as.data.frame(VarCorr(fit)); s2 <- sigma(fit)^2
  X <- getME(fit, "X"); n <- nrow(X)
  block <- function(z) outer(rows$pass, rows$pass, "==") * outer(z, z)
  Vs <- list(diag(1 / rows$w), block(rows$x)); theta <- c(s2, vc$vcov[vc$var1 == "x" & !is.na(vc$var1)])
  if (bent) { Vs <- c(Vs, list(block(rows$p2))); theta <- c(theta, vc$vcov[vc$var1 == "p2" & !is.na(vc$var1)]) }
  V <- Reduce(`+`, Map(`*`, theta, Vs)); Vi <- solve(V); C <- solve(t(X) %*% Vi %*% X); P <- Vi - Vi %*% X %*% C %*% t(X) %*% Vi
  m <- length(Vs); info <- matrix(0, m, m); for (i in 1:m) for (j in 1:m) info[i, j] <- 0.5 * sum(diag(P %*% Vs[[i]] %*% P %*% Vs[[j]]))
  free <- theta > 0
  of <- function(prefix, weights) {
    l <- rep(0, length(fe)); for (i in seq_along(weights)) l[names(fe) == paste0(prefix, i)] <- weights[i]
    g <- sapply(Vs, function(M) drop(t(l) %*% C %*% t(X) %*% Vi %*% M %*% Vi %*% X %*% C %*% l)); v <- drop(t(l) %*% C %*% l)
    sprintf('{"value": %.12g, "standard_error": %.12g, "dof": %.10g}', sum(l * fe), sqrt(v), 2 * v^2 / drop(t(g[free]) %*% solve(info[free, free]) %*% g[free]))
  }
  k <- length(ways)
  parts <- c(sprintf('"taper": %s', of("x", rep(2 / k, k))))
  if (k > 1) parts <- c(parts, sprintf('"difference": %s', of("x", 2 * (1 - 2 * (ways == "to-headstock")))))
  for (i in seq_along(ways)) parts <- c(parts, sprintf('"%s": %s', ways[i], of("x", 2 * (seq_along(ways) == i))))
  if (bent) {
    l <- rep(0, length(fe)); l[names(fe) %in% paste0("x", 1:k)] <- 1 / k; l[names(fe) %in% paste0("q", 1:k)] <- 1.5 / k
    r <- ifelse(names(fe) %in% paste0("x", 1:k), -l, l)
    parts <- c(parts, sprintf('"barrel": %s', of("q", rep(-1.5 / k, k))),
               sprintf('"curve_errors": [%.10g, %.10g]', sqrt(drop(t(r) %*% C %*% r)), sqrt(drop(t(l) %*% C %*% l))))
  }
  parts <- c(parts, sprintf('"sigma": %.12g, "between_taper": %.12g', sigma(fit), 2 * sqrt(theta[2])))
  sprintf('"%s": {%s}', name, paste(parts, collapse = ",\n  "))
}
versions <- sprintf('"versions": "%s, lme4 %s, MASS %s"', R.version.string, packageVersion("lme4"), packageVersion("MASS"))
tapers <- sprintf('"robust": {%s}', paste(sapply(c("ways", "unlike", "straight", "ends", "wave"), robust), collapse = ", "))
cat("{\n", paste(c(report("many"), report("collars"), tapers, versions), collapse = ",\n"), "\n}\n", file = "models.json", sep = "")
