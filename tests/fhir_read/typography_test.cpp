// However a text is set, it says the same: spaces, hyphens, apostrophes and accents by the Unicode character database (names of the characters beside them).
#include "fhir_read/order_text.h"
#include "fhir_read/phrase.h"
#include "fhir_read/reading_support.h"
#include "fhir_read/typography.h"
#include "fhir_read/values.h"

#include <gtest/gtest.h>

namespace {

using fhir_read::plain;
using fhir_read::words_of;

TEST(Typography, one_character_for_all_of_a_kind) {
  EXPECT_EQ(plain("Bed\u00A0rest\u202F12\u2009h"), "Bed rest 12 h") << "no-break, narrow no-break, thin space";
  EXPECT_EQ(plain("12\u2011st\u00FCndig, 8\u201312"), "12-st\u00FCndig, 8-12") << "non-breaking hyphen, en dash";
  EXPECT_EQ(plain("l\u2019introducteur"), "l'introducteur") << "right single quotation mark";
  EXPECT_EQ(plain("Schleu\u00ADse\u200B"), "Schleuse") << "soft hyphen, zero width space";
  EXPECT_EQ(plain("de\u0301silet fu\u0308r lez\u0307ec\u0301 A\u0328"), "d\u00E9silet f\u00FCr le\u017Ce\u0107 \u0104") << "combining acute, diaeresis, dot above, ogonek";
  EXPECT_EQ(plain("\u0627\u0654\u0640\u0628"), "\u0623\u0628") << "hamza above, tatweel";
  EXPECT_EQ(plain("\xC3(\xFF"), "\xC3(\xFF") << "what is no UTF-8 stays";
  EXPECT_EQ(plain("\U0001F600 \u2264 160"), "\U0001F600 \u2264 160");
  EXPECT_EQ(words_of("Bettruhe\u00A012\u00A0h"), (std::vector<std::string>{"bettruhe", "12", "h"}));
}

TEST(Typography, orders_hold_however_they_are_set) {
  const auto& terms = reading_test::terminology();
  const auto does = [&](std::string_view text) { return fhir_read::sheath_saying(text, terms, false).does; };
  for (const char* text : {"Ne pas retirer l\u2019introducteur", "L\u2019introducteur reste en place", "Sheath\u00A0stays in", "Ne pas retirer le de\u0301silet", "Ne\u00A0pas\u00A0retirer le d\u00E9silet", "Sheath stays\u2011in",
                           "She\u00ADath stays in"})
    EXPECT_EQ(does(text), fhir_read::SheathWord::leave) << text;
  for (const char* text : {"Bettruhe\u00A012\u00A0h", "Bed\u00A0rest 12 h", "Repos au lit 12\u202Fh"}) EXPECT_TRUE(fhir_read::names_bed_rest(text, terms)) << text;
  EXPECT_EQ(fhir_read::quantity_in("126\u00A0mmHg")["unit"].text(), "mmHg");
}

}  // namespace
