# Writes reference.json: what R finds of data with values below limits.
#
#   NADA_ROS=ros.R Rscript reference.R > reference.json
#
# Kaplan-Meier by R's package survival (3.5-3, Debian's r-cran-survival; R 4.2.2)
# on flipped data. Regression on order statistics by the functions cohn,
# hc.ppoints.uncen and hc.ppoints.cen of R/ros.R in CRAN's package NADA 1.6-1.1,
# which NADA_ROS names, with lm and predict as its function ros has them, and one
# change: NADA counts a measured value that equals a limit on both sides of it;
# its successor NADA2 (R/NADA_ros.R) takes it from B, and so does this file's copy:
#
#   B[i] = length(obs[obs <= limit[i]]) - length(uncen[uncen == limit[i]])
library(stats); library(survival)
source(Sys.getenv("NADA_ROS"))
ros <- function(x, below) {
  o <- order(x, !below); x <- x[o]; below <- below[o]
  stopifnot(max(x[below]) <= max(x[!below]))
  pp <- numeric(length(x))
  pp[!below] <- hc.ppoints.uncen(x, below); pp[below] <- hc.ppoints.cen(x, below)
  z <- qnorm(pp[!below]); y <- log(x[!below])
  fit <- lm(y ~ z)
  x[below] <- exp(predict(fit, data.frame(z = qnorm(pp[below]))))
  list(modeled = x, fit = fit)
}

she <- list(x = c(28, 31, 32, 34, 35, 35, 40, 47, 48, 58, 59, 63, 64, 64, 67, 67, 67, 72, 73, 84, 86, 86,
  87, 94, 98, 100, 103, 103, 105, 107, 110, 111, 117, 119, 119, 122, 122, 132, 133, 133, 138, 163, 163,
  163, 163, 174, 187, 190, 222, 238, 273, 289, 306, 333, 459, 2982), below = rep(FALSE, 56))
she$below[c(1, 5, 6, 10, 22, 33, 36, 42, 43, 44, 46)] <- TRUE
oahu <- list(x = c(1, 1, 1.7, 1, 1, 2, 3.2, 2, 2, 2.8, 2, 2, 2, 2, 2, 0.7, 0.9, 0.5, 0.5, 0.9, 0.5, 0.7, 0.6, 1.5),
  below = as.logical(c(1, 1, 0, 1, 1, 1, 0, 1, 1, 0, 1, 1, 1, 1, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0)))
drawn <- function(seed, n, limits, mu, s) {
  set.seed(seed)
  x <- signif(rlnorm(n, mu, s), 4); l <- rep(limits, length.out = n)
  list(x = ifelse(x < l, l, x), below = x < l)
}
sets <- list(she = she, oahu = oahu,
  one_limit = drawn(1, 40, 5, 2, 0.9), three_limits = drawn(2, 90, c(2, 5, 9), 2, 0.8),
  many_below = drawn(3, 60, c(10, 12), 2, 0.7), none_below = drawn(4, 35, 0, 3, 0.6), few = drawn(5, 12, c(1, 4), 1.5, 0.8))
about <- c(she = "pyrene, ug/kg, 56 values, Puget Sound; She, N. (1997), Journal of the American Water Resources Association 33:615-624, as the data ShePyrene of the package NADA",
  oahu = "dissolved arsenic, ug/L, urban streams of Oahu; Tomlinson (2003), as the data Oahu of the package NADA and in Helsel (2012)")

num <- function(v) { v <- format(v, digits = 16, trim = TRUE); v[grepl("NA|NaN|Inf", v)] <- "null"; v }
arr <- function(v) paste0("[", paste(num(v), collapse = ", "), "]")
probs <- c(0.1, 0.25, 0.5, 0.75, 0.9)
out <- sapply(names(sets), function(name) {
  d <- sets[[name]]; top <- max(d$x) + 1
  f <- survfit(Surv(top - d$x, !d$below) ~ 1, conf.type = "log-log")
  q <- quantile(f, probs = 1 - probs)
  t <- summary(f)$table
  ev <- rev(which(f$n.event > 0))
  cdf <- f$surv[ev]                       # P(X < x)
  ros <- if (any(d$below)) ros(d$x, d$below) else NULL
  paste0("  {\"name\": \"", name, "\",\n",
    if (name %in% names(about)) paste0("   \"about\": \"", about[[name]], "\",\n") else "   \"about\": \"drawn by this script\",\n",
    "   \"x\": ", arr(d$x), ",\n   \"below\": ", paste0("[", paste(tolower(d$below), collapse = ", "), "]"), ",\n",
    "   \"at\": ", arr(top - f$time[ev]), ",\n   \"less\": ", arr(cdf), ",\n   \"se\": ", arr(f$std.err[ev] * cdf), ",\n",
    "   \"probs\": ", arr(probs), ",\n   \"quantiles\": ", arr(top - q$quantile), ",\n",
    "   \"low\": ", arr(top - q$upper), ",\n   \"high\": ", arr(top - q$lower), ",\n",
    "   \"km_mean\": ", num(top - t[["rmean"]]), ", \"km_mean_se\": ", num(t[["se(rmean)"]]), ",\n",
    if (is.null(ros)) "   \"ros_mean\": null, \"ros_sd\": null, \"ros_median\": null, \"ros_intercept\": null, \"ros_slope\": null"
    else paste0("   \"ros_mean\": ", num(mean(ros$modeled)), ", \"ros_sd\": ", num(sqrt(var(ros$modeled))), ", \"ros_median\": ", num(median(ros$modeled)),
      ", \"ros_intercept\": ", num(coef(ros$fit)[[1]]), ", \"ros_slope\": ", num(coef(ros$fit)[[2]])),
    "}")
})
cat("[\n", paste(out, collapse = ",\n"), "\n]\n", sep = "")
