// Decimal numbers compared exactly: readings and their limits are decimal, and binary
// floating point would move a value that lies on its limit.

/**
 * {digits, places} of a decimal text, with or without exponent: the number is
 * digits / 10^places, digits a BigInt, and places is as small as it can be, at least 0.
 */
function decimalOf(text) {
  const [, minus, whole, fraction = "", exponent = "0"] = /^(-?)(\d+)(?:\.(\d+))?(?:e([+-]?\d+))?$/.exec(text);
  let places = fraction.length - Number(exponent);
  let digits = whole + fraction;
  while (places > 0 && digits.endsWith("0")) {
    digits = digits.slice(0, -1);
    places -= 1;
  }
  if (places < 0) {
    digits += "0".repeat(-places);
    places = 0;
  }
  const size = BigInt(digits || "0");
  return { digits: minus ? -size : size, places: size === 0n ? 0 : places };
}

/** Below 0, 0 or above 0 as the one decimal text is below, like or above the other. */
function compareDecimals(one, other) {
  const [a, b] = [decimalOf(one), decimalOf(other)];
  const left = a.digits * 10n ** BigInt(b.places);
  const right = b.digits * 10n ** BigInt(a.places);
  return left < right ? -1 : Number(left > right);
}

/** To the nearest whole number, from halfway to the even one. */
function roundHalfEven(value) {
  const below = Math.floor(value);
  const over = value - below;
  if (over !== 0.5) return Math.round(value);
  return below % 2 === 0 ? below : below + 1;
}
