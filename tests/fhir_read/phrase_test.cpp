#include "fhir_read/phrase.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace {

using fhir_read::Phrase;
using fhir_read::words_of;
using testing::ElementsAre;

TEST(Words, capitals_are_lowered_in_the_letters_of_the_six_languages) {
  EXPECT_THAT(words_of("HÄMODIALYSE, Überwachung; DÉSILET Ñandú"), ElementsAre("hämodialyse", "überwachung", "désilet", "ñandú"));
  EXPECT_THAT(words_of("ŁÓŻKO ŚLUZA ŹLE ŃĆĄĘ"), ElementsAre("łóżko", "śluza", "źle", "ńćąę"));
  EXPECT_THAT(words_of("6×8 غمد ß Ÿ ÿ"), ElementsAre("6×8", "غمد", "ß", "Ÿ", "ÿ")) << "no capital, or one whose small letter lies elsewhere";
}

TEST(PhraseMatch, a_denial_counts_only_close_by) {
  const Phrase dialysis{{"dialysis"}, {}, {"no", "not"}};
  EXPECT_EQ(dialysis.match(words_of("on dialysis, not a candidate for transplantation")), Phrase::Match::yes) << "of something else";
  EXPECT_EQ(dialysis.match(words_of("not on chronic dialysis")), Phrase::Match::excluded);
  EXPECT_EQ(dialysis.match(words_of("dialysis: no")), Phrase::Match::excluded);
  EXPECT_EQ(dialysis.match(words_of("dialysis ordered: no")), Phrase::Match::excluded);
  EXPECT_EQ(dialysis.match(words_of("dialysis for years, kidneys: no")), Phrase::Match::yes);
  EXPECT_EQ(dialysis.match(words_of("dialysis is not needed today")), Phrase::Match::yes) << "who is not sure asks";
  EXPECT_EQ(dialysis.match(words_of("dialysis")), Phrase::Match::yes);
  EXPECT_EQ(dialysis.match(words_of("no dialysis in 2020; since then three times a week dialysis")), Phrase::Match::yes) << "one place that nothing denies";
  EXPECT_EQ(dialysis.match(words_of("kidneys well")), Phrase::Match::no);
}

}  // namespace
