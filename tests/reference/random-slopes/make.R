# Random slope and bend per pass on unlike stations, by lme4; run: Rscript make.R   (writes log.csv and expected.json)
# Degrees of freedom three ways: lmerTest (Satterthwaite, observed information), pbkrtest (Kenward-Roger), and
# Satterthwaite with the expected information from explicit n x n matrices, which is what the program does.
suppressMessages({library(lme4); library(lmerTest); library(pbkrtest)})
set.seed(20260314)
stations <- list(c(10, 50, 90, 130, 170, 210), c(10, 40, 90, 150, 210), c(10, 60, 110, 160, 205, 210), c(20, 50, 80, 140, 200),
                 c(10, 30, 50, 70, 190, 210), c(10, 100, 110, 120, 210), c(15, 60, 120, 165))
rows <- do.call(rbind, lapply(seq_along(stations), function(p) data.frame(pass = p, station = stations[[p]])))
rows$x <- (rows$station - 110) / 100
rows$p2 <- 1.5 * rows$x^2 - 0.5
b <- rnorm(7, 0, 0.0018); c <- rnorm(7, 0, 0.0012)
rows$diameter <- round(38 - 0.2 * rows$pass + (0.009 + b[rows$pass]) * rows$x + (-0.003 + c[rows$pass]) * rows$p2 + rnorm(nrow(rows), 0, 0.0011), 4)
write.csv(rows[, c("pass", "station", "diameter")], "log.csv", row.names = FALSE, quote = FALSE)
fit <- lmer(diameter ~ 0 + factor(pass) + x + p2 + (0 + x | pass) + (0 + p2 | pass), data = rows, REML = TRUE,
            control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-12)))
fe <- fixef(fit); v <- vcov(fit); s2 <- sigma(fit)^2
vc <- as.data.frame(VarCorr(fit))
k <- length(fe)
L <- rep(0, k); L[names(fe) == "x"] <- 2
B <- rep(0, k); B[names(fe) == "p2"] <- -1.5
X <- getME(fit, "X"); n <- nrow(X)
block <- function(z) { m <- outer(rows$pass, rows$pass, "==") * outer(z, z); m }
Vs <- list(diag(n), block(rows$x), block(rows$p2))
theta <- c(s2, vc$vcov[vc$var1 == "x" & !is.na(vc$var1)], vc$vcov[vc$var1 == "p2" & !is.na(vc$var1)])
V <- Reduce(`+`, Map(`*`, theta, Vs)); Vi <- solve(V); C <- solve(t(X) %*% Vi %*% X); P <- Vi - Vi %*% X %*% C %*% t(X) %*% Vi
info <- matrix(0, 3, 3); for (i in 1:3) for (j in 1:3) info[i, j] <- 0.5 * sum(diag(P %*% Vs[[i]] %*% P %*% Vs[[j]]))
dof <- function(l) { g <- sapply(Vs, function(M) drop(t(l) %*% C %*% t(X) %*% Vi %*% M %*% Vi %*% X %*% C %*% l)); w <- drop(t(l) %*% C %*% l)
                     2 * w^2 / drop(t(g) %*% solve(info) %*% g) }
report <- function(name, l) {
  ct <- contest1D(fit, l); kr <- get_Lb_ddf(fit, l)
  sprintf('"%s": {"value": %.12g, "standard_error": %.12g, "dof_expected_information": %.10g, "dof_lmertest": %.8g, "dof_kenward_roger": %.8g}',
          name, sum(l * fe), sqrt(drop(t(l) %*% as.matrix(v) %*% l)), dof(l), ct$df, kr)
}
cat("{\n", report("taper", L), ",\n", report("barrel", B), ",\n",
    sprintf('"sigma": %.12g, "sd_slope": %.12g, "sd_bend": %.12g, "reml_criterion": %.12g,\n', sigma(fit), sqrt(theta[2]), sqrt(theta[3]), REMLcrit(fit)),
    sprintf('"versions": "%s, lme4 %s, lmerTest %s, pbkrtest %s"\n}\n', R.version.string, packageVersion("lme4"), packageVersion("lmerTest"), packageVersion("pbkrtest")),
    file = "expected.json", sep = "")
