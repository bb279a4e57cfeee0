# Reading, centred least squares and a robust-free summary of a long log in base R: usage: Rscript long_same_work.R LOG.csv
log <- commandArgs(trailingOnly = TRUE)[1]
data <- read.csv(log, colClasses = c("integer", "character", "numeric", "numeric"))
span <- range(data$station_mm)
x <- (2 * data$station_mm - span[1] - span[2]) / (span[2] - span[1])
bend <- 1.5 * x^2 - 0.5
centred <- function(v) v - ave(v, data$pass)
y <- centred(data$diameter_mm)
p1 <- centred(x)
p2 <- centred(bend)
fit <- lm.fit(cbind(p1, p2), y)
e <- fit$residuals
cat(sprintf("taper %.9f barrel %.9f sd %.9f dw %.9f\n", 2 * fit$coefficients[1], -1.5 * fit$coefficients[2],
    sqrt(sum(e^2) / (length(e) - length(unique(data$pass)) - 2)), sum(diff(e)^2) / sum(e^2)))
