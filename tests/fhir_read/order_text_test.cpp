// What the words of an order do to the sheath and to bed rest. The sentences are invented, in the manner of orders that are written by hand; common practice, no source.
#include "fhir_read/load_terminology.h"
#include "fhir_read/order_text.h"

#include <gtest/gtest.h>

namespace {

using fhir_read::SheathWord;

const fhir_read::Terminology& terms() {
  static const auto loaded = fhir_read::load_terminology(SOURCE_DIR "/profiles/terminology");
  return *loaded;
}
SheathWord does(const char* text, bool of_a_removal = false) { return fhir_read::sheath_saying(text, terms(), of_a_removal).does; }

TEST(SheathOrderWords, it_stays_in_six_languages) {
  for (const char* text :
       {"Do not remove the sheath tonight", "DO NOT PULL SHEATH", "Don't pull femoral sheath", "Leave sheath in place until 18:00", "Keep arterial sheath in", "Leave 6F sheath until seen by doctor", "Hold sheath removal",
        "Delay sheath pull until reviewed", "Sheath to stay in overnight", "Sheath removal: HOLD", "IABP sheath: leave", "Sheath: to be left in", "The sheath remains until tomorrow", "No sheath removal tonight", "Post PCI. Do NOT pull sheath before surgeon review", "Do not touch the sheath",
        "Schleuse nicht ziehen", "Schleuse heute nicht ziehen!", "Schleuse bis morgen belassen", "Schleuse bleibt bis zur Visite", "Schleuse liegen lassen", "SCHLEUSE NICHT ENTFERNEN", "Kein Schleusenzug heute",
        "Ne pas retirer le désilet", "Laisser le désilet en place", "NE PAS RETIRER LE DÉSILET", "Garder l'introducteur jusqu'à demain",
        "No retirar el introductor", "Dejar la vaina hasta mañana", "Mantener el introductor", "Nie usuwać koszulki", "Pozostawić koszulkę do rana", "Koszulka pozostaje do jutra", "لا تنزع الغمد", "اترك الغمد حتى الصباح"}) {
    EXPECT_EQ(does(text), SheathWord::leave) << text;
  }
}

TEST(SheathOrderWords, a_shortened_word_ends_no_sentence) {
  for (const char* text : {"Schleuse li. nicht ziehen", "Schleuse re. belassen bis Visite", "Sheath r. groin. Do not remove", "Sheath l. groin: leave", "Introductor izq. no retirar", "Koszulka l. pachwina nie usuwać"})
    EXPECT_EQ(does(text), SheathWord::leave) << text;
  EXPECT_EQ(does("Schleuse ca. 18 Uhr ziehen"), SheathWord::conditional);
  EXPECT_EQ(does("Sheath dressing clean. Do not remove dressing"), SheathWord::named) << "something else is denied";
}

TEST(SheathOrderWords, what_lies_in_the_groin_has_other_names) {
  for (const char* text : {"Femoral line: do not remove", "Leistenzugang belassen", "Keep arterial access for re-look", "A-Zugang Leiste liegen lassen", "Laisser l'abord fémoral en place", "Dejar el acceso arterial", "Pozostawić cewnik tętniczy", "اترك القسطرة الفخذي"})
    EXPECT_EQ(does(text), SheathWord::leave) << text;
  for (const char* text : {"Femoral access site checks every 15 min", "Remove urinary catheter", "Remove femoral line", "Keep urinary catheter", "Leistenzugang kontrollieren"}) EXPECT_EQ(does(text), SheathWord::none) << text;
}

TEST(SheathOrderWords, a_puncture_elsewhere_does_not_make_this_sheath_one_of_it) {
  for (const char* text : {"Radial failed: leave sheath until morning", "Radialer Zugang frustran, Schleuse bleibt", "Radial: leave sheath"}) EXPECT_EQ(does(text), SheathWord::leave) << text;
  for (const char* text : {"Remove radial sheath at 16:00", "Radial access: remove sheath", "Leave jugular sheath", "Sheath in right internal jugular: keep", "Schleuse A. radialis belassen"}) EXPECT_EQ(does(text), SheathWord::none) << text;
}

TEST(SheathOrderWords, out_is_a_removal_where_something_is_bound_to_it) {
  for (const char* text : {"Sheath out only by Dr Invented", "sheath NOT out before 18h", "Schleuse erst morgen raus"}) EXPECT_GE(does(text), SheathWord::conditional) << text;
  EXPECT_EQ(does("Flat until sheath out"), SheathWord::none);
}

TEST(SheathOrderWords, it_may_is_a_permission_and_no_condition) {
  for (const char* text : {"ok to pull sheath when ACT<150", "Sheath may be removed", "Schleuse darf gezogen werden", "Okay to remove sheath"}) EXPECT_EQ(does(text), SheathWord::removal) << text;
  EXPECT_EQ(fhir_read::sheath_saying("ok to pull when ACT<150 sheath", terms(), false).act_below, 150);
  for (const char* text : {"Sheath may not be removed", "Schleuse darf nicht gezogen werden", "Sheath can't be removed", "Sheath may be removed by Dr Invented"}) EXPECT_GE(does(text), SheathWord::conditional) << text;
}

TEST(SheathOrderWords, a_denied_pull_that_names_nothing_else_is_seen) {
  for (const char* text : {"Nicht ziehen vor Rücksprache OA", "Do not pull until ACT < 150", "Do not remove", "Bitte nicht ziehen", "Ne pas retirer avant avis", "No retirar hasta mañana", "Nie usuwać do rana", "لا تنزع"})
    EXPECT_TRUE(fhir_read::denies_a_removal(text, terms())) << text;
  for (const char* text : {"Do not remove dressing", "Verband nicht entfernen", "Do not pull on the arm", "Remove now", "Do not bend the leg", ""}) EXPECT_FALSE(fhir_read::denies_a_removal(text, terms())) << text;
}

TEST(SheathOrderWords, a_plain_removal_is_one) {
  for (const char* text : {"Remove femoral sheath", "Remove femoral sheath now", "Femoral sheath removal", "Removal of femoral arterial sheath", "Sheath removal right groin 6F per protocol", "Please pull sheath", "Remove 6 Fr sheath",
                           "Remove sheath and hold manual pressure for 20 minutes", "Sheath pull by nurse", "Post PCI sheath removal", "Schleusenzug", "Schleuse ziehen", "Schleusenentfernung rechte Leiste", "Retrait du désilet fémoral",
                           "Retirar introductor femoral", "Usunięcie koszulki tętniczej", "إزالة الغمد الشرياني"}) {
    EXPECT_EQ(does(text), SheathWord::removal) << text;
  }
}

TEST(SheathOrderWords, what_was_not_understood_sets_a_condition) {
  for (const char* text : {"Sheath removal after CT", "Remove sheath at 18:00", "Remove sheath in 4 hours", "Surgeon review before sheath removal", "Sheath removal by physician only", "Pull sheath when BP < 150", "Remove sheath once seen",
                           "Sheath removal ACT 150-180", "Schleuse erst nach Rücksprache ziehen", "Schleuse nicht vor 18 Uhr ziehen", "Schleusenzug durch Arzt", "Ziehen Sie die Schleuse nicht", "Retrait du désilet après avis",
                           "Ne retirez pas le désilet", "Retirar introductor solo por médico", "Usunięcie koszulki po konsultacji", "إزالة الغمد بعد مراجعة الطبيب"}) {
    EXPECT_EQ(does(text), SheathWord::conditional) << text;
  }
}

TEST(SheathOrderWords, what_is_done_around_it_is_none_of_it) {
  for (const char* text : {"Vital signs every 15 min x 4 after sheath removal", "Strict bed rest 8 hours after sheath removal", "Keep leg straight while sheath in place", "Do not bend the leg until sheath is removed", "Ambulate 6 h post sheath pull",
                           "HOB under 30 until sheath out", "Patient with sheath stays flat", "Remove radial sheath at 16:00", "Chest X-ray", "", "Nach Schleusenzug 6 h Bettruhe", "Flach liegen bis Schleuse gezogen", "Signes vitaux après retrait du désilet", "Pulsos tras retirada del introductor"}) {
    EXPECT_EQ(does(text), SheathWord::none) << text;
  }
}

TEST(SheathOrderWords, what_only_names_it_is_shown) {
  for (const char* text : {"Flush sheath every hour", "Keep sheath site dry", "Arterial sheath care", "Sheath until morning", "Schleuse spülen", "Sheath in: stay flat", "Sheath dressing: stay dry"}) {
    EXPECT_EQ(does(text), SheathWord::named) << text;
  }
}

TEST(SheathOrderWords, the_limit_of_the_act_is_read) {
  const auto limit = [](const char* text) { return fhir_read::sheath_saying(text, terms(), false).act_below; };
  EXPECT_EQ(limit("Sheath removal at ACT < 180 s"), 180);
  EXPECT_EQ(does("Sheath removal at ACT < 180 s"), SheathWord::removal) << "nothing else is said";
  EXPECT_EQ(limit("Remove sheath when ACT is less than 160 sec"), 160);
  EXPECT_EQ(limit("Schleuse ziehen bei ACT unter 150"), 150);
  EXPECT_EQ(limit("Pull sheath if ACT \u2264 170"), 170);
  EXPECT_EQ(limit("Pull sheath if ACT < 170. Then remove venous sheath when ACT < 160"), 160) << "the lowest";
  EXPECT_EQ(does("Pull sheath if ACT < 170 and seen by doctor"), SheathWord::conditional);
  EXPECT_EQ(limit("Pull sheath ACT 150-180"), std::nullopt);
  EXPECT_EQ(limit("Do not pull if ACT > 180; call"), std::nullopt);
  EXPECT_EQ(limit("Draw ACT, call if ACT < 120"), std::nullopt) << "no sheath";
  EXPECT_EQ(limit("Pull sheath when ACT < 1000"), std::nullopt) << "no limit that anybody means";
}

TEST(SheathOrderWords, in_a_removal_by_code_the_sheath_need_not_be_named) {
  EXPECT_EQ(does("only after review", true), SheathWord::conditional);
  EXPECT_EQ(does("not before 18:00", true), SheathWord::conditional);
  EXPECT_EQ(does("record the foot pulses", true), SheathWord::none);
  EXPECT_EQ(does("6 F", true), SheathWord::none);
  EXPECT_EQ(fhir_read::sheath_saying("ACT < 160", terms(), true).act_below, 160);
}

TEST(SheathOrderWords, the_strongest_sentence_is_given_as_written) {
  const auto said = fhir_read::sheath_saying("Remove sheath after CT. Dr. X: do NOT pull the sheath tonight; pulses every 15 min after sheath removal.", terms(), false);
  EXPECT_EQ(said.does, SheathWord::leave);
  EXPECT_EQ(said.sentence, " Dr. X: do NOT pull the sheath tonight");
}

TEST(BedRestWords, lying_flat_is_named_in_six_languages) {
  for (const char* text : {"Strict bed rest 8 hours", "Flat until morning", "Lie flat 6 h", "No ambulation tonight", "Patient to remain supine", "Strenge Bettruhe bis morgen", "Flach liegen 6 Std", "Heute nicht aufstehen", "Repos au lit strict",
                           "Décubitus strict jusqu'au matin", "Ne pas se lever", "Reposo absoluto 12 h", "No levantarse hasta mañana", "Leżeć płasko do rana", "Nie wstawać", "راحة في السرير حتى الصباح"}) {
    EXPECT_TRUE(fhir_read::names_bed_rest(text, terms())) << text;
  }
  for (const char* text : {"Chest X-ray", "Remove femoral sheath", "Walk today", ""}) EXPECT_FALSE(fhir_read::names_bed_rest(text, terms())) << text;
}

TEST(BedRestWords, shortened_and_told_by_getting_up) {
  for (const char* text : {"BR 12h", "BR x 12 h", "BR until morning", "Mobilisation erst ab morgen", "Mobilise from tomorrow", "Patient darf nicht aufstehen", "Frühestens um 18 Uhr aufstehen", "Not to be mobilised", "Ambulate only after review",
                           "Lever à partir de demain", "Pas de lever avant la visite", "Deambular solo tras la visita", "Wstawać dopiero jutro", "لا ينهض", "النهوض فقط غدا"})
    EXPECT_TRUE(fhir_read::names_bed_rest(text, terms())) << text;
  for (const char* text : {"BR sounds", "Mobilise as tolerated", "Walk with help", "Mobilisation heute", "Lever"}) EXPECT_FALSE(fhir_read::names_bed_rest(text, terms())) << text;
  for (const char* text : {"Mobilisation erst ab morgen", "nicht aufstehen", "Ambulate only after review"}) EXPECT_TRUE(fhir_read::rest_end_unread(text, terms(), false)) << text;
  for (const char* text : {"BR 12h", "Mobilisation erst nach 8 h"}) EXPECT_FALSE(fhir_read::rest_end_unread(text, terms(), true)) << text;
}

TEST(BedRestWords, an_end_that_was_not_read_is_seen) {
  for (const char* text : {"Flat until morning", "Bed rest until seen by doctor", "Bed rest for six hours", "Bettruhe bis morgen", "Bettruhe bis 8 h", "Bed rest overnight", "Repos au lit jusqu'à demain", "Reposo hasta mañana", "Leżeć do rana", "راحة في السرير حتى الصباح",
                           "Bed rest 4 h, flat overnight"}) {
    const bool read = std::string_view(text).find(" 4 h") != std::string_view::npos || std::string_view(text).find(" 8 h") != std::string_view::npos;
    EXPECT_TRUE(fhir_read::rest_end_unread(text, terms(), read)) << text;
  }
  // Times of the day, and lengths that begin elsewhere (common practice, no source).
  for (const char* text : {"Leżeć do 8 h", "Reżim łóżkowy do 8h", "Bed rest 8 h from 14:00", "Bettruhe 10 h nach Druckverbandabnahme 16:00", "Ne pas se lever avant 20h", "Aufstehen ab 20 Uhr", "Bettruhe 8 h ab 14 Uhr", "No levantar antes de las 20:00"})
    EXPECT_TRUE(fhir_read::rest_end_unread(text, terms(), true)) << text;
  for (const char* text : {"Bed rest", "Bed rest until sheath removal", "Flach liegen bis zum Schleusenzug"}) EXPECT_FALSE(fhir_read::rest_end_unread(text, terms(), false)) << text;
  for (const char* text : {"Bed rest 6 h", "Bed rest until 6 hours after haemostasis", "8 h bed rest, then walk with help"}) EXPECT_FALSE(fhir_read::rest_end_unread(text, terms(), true)) << text;
}

}  // namespace
