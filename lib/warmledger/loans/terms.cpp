#include "warmledger/loans/terms.hpp"

#include <algorithm>
#include <array>
#include <chrono>
#include <vector>

#include <fmt/format.h>

#include "warmledger/errors/errors.hpp"

namespace warmledger::loans {

std::string_view name_of(DeferredInterest interest) {
  static constexpr std::array<std::string_view, 3> names{"added", "waived", "waived_if_paid"};
  return names.at(static_cast<std::size_t>(interest));
}

std::string_view name_of(CollectedOn bill) {
  static constexpr std::array<std::string_view, 3> names{"loan_bill", "utility_bill", "property_tax_bill"};
  return names.at(static_cast<std::size_t>(bill));
}

namespace {

/// Months between payments, or 0 where they fall on days of the week.
int months_apart(const LoanTerms& terms) {
  return terms.payments_per_year > 12 ? 0 : 12 / terms.payments_per_year;
}

int days_apart(const LoanTerms& terms) {
  return terms.payments_per_year == 52 ? 7 : 14;
}

[[noreturn]] void refuse(std::string_view key, const std::string& value, std::string_view what,
                         std::string_view allowed) {
  throw errors::Contradiction({{"", {}, {}, std::string(key)}, value, std::string(what), std::string(allowed)});
}

void check_ranges(const LoanTerms& terms) {
  using errors::require_in_range;
  require_in_range("yearly_rate", terms.yearly_rate, 0.0, 1.0, "(0.06 is 6 %)");
  require_in_range("term_months", terms.term_months, 1, 600, "months");
  require_in_range("largest_usd", terms.largest_usd, 0.0, 1e12, "dollars");
  static constexpr std::array allowed{52, 26, 12, 4, 2, 1};
  if (std::find(allowed.begin(), allowed.end(), terms.payments_per_year) == allowed.end()) {
    throw errors::ValueOutOfRange({{"", {}, {}, "payments_per_year"},
                                   fmt::format("{}", terms.payments_per_year),
                                   "is no such rhythm",
                                   fmt::format("{}", fmt::join(allowed, ", "))});
  }
  if (terms.odd_days_year != 365 && terms.odd_days_year != 360) {
    throw errors::ValueOutOfRange(
        {{"", {}, {}, "odd_days_year"}, fmt::format("{}", terms.odd_days_year), "is no such year", "365 or 360"});
  }
  require_in_range("deferral_months", terms.deferral_months, 0, 120, "months");
  require_in_range("interest_only_months", terms.interest_only_months, 0, 600, "months");
  require_in_range("balloon_share", terms.balloon_share, 0.0, 0.99, "of the amount lent");
  require_in_range("amortisation_months", terms.amortisation_months, 0, 1200, "months");
  require_in_range("lump_usd", terms.lump_usd, 0.0, 1e12, "dollars");
  require_in_range("lump_share", terms.lump_share, 0.0, 1.0, "of the amount lent");
  require_in_range("lump_months", terms.lump_months, 0, 600, "months");
  require_in_range("early_payoff_months", terms.early_payoff_months, 0, 600, "months");
  require_in_range("interest_deduction_rate", terms.interest_deduction_rate, 0.0, 0.6, "of the interest");
  require_in_range("dealer_fee_share", terms.dealer_fee_share, 0.0, 0.5, "of the amount lent");
  require_in_range("points_share", terms.points_share, 0.0, 0.2, "of the amount lent");
  require_in_range("fee_usd", terms.fee_usd, 0.0, 1e6, "dollars");
  require_in_range("buy_down_rate", terms.buy_down_rate, 0.0, terms.yearly_rate, "(at most yearly_rate)");
}

}  // namespace

void check(const LoanTerms& terms) {
  check_ranges(terms);
  const auto text = [](int months) { return fmt::format("{}", months); };
  if (const int apart = months_apart(terms); apart > 1) {
    const auto whole = [&](std::string_view key, int months) {
      if (months % apart == 0) return;
      refuse(key, text(months), "is no whole number of payment periods", fmt::format("multiples of {} months", apart));
    };
    whole("term_months", terms.term_months);
    whole("deferral_months", terms.deferral_months);
    whole("interest_only_months", terms.interest_only_months);
    whole("amortisation_months", terms.amortisation_months);
  }
  const int before = periods_in(terms, terms.deferral_months) + periods_in(terms, terms.interest_only_months);
  if (before > 0 && before >= periods_in(terms, terms.term_months)) {
    refuse("term_months", text(terms.term_months), "leaves no payment after the deferral and the interest-only time",
           "a longer term");
  }
  if (terms.deferred_interest != DeferredInterest::added && terms.deferral_months == 0) {
    refuse("deferred_interest", std::string(name_of(terms.deferred_interest)),
           "says something of a deferral, and there is none", "deferral_months of 1 or more");
  }
  if (terms.balloon_share > 0 && terms.amortisation_months > 0) {
    refuse("balloon_share", errors::plain_number(terms.balloon_share),
           "and amortisation_months both say what is due at the end", "one of the two");
  }
  if (terms.amortisation_months > 0 && terms.amortisation_months < terms.term_months) {
    refuse("amortisation_months", text(terms.amortisation_months), "is shorter than the term",
           fmt::format("term_months ({}) or more", terms.term_months));
  }
  if (terms.first_payment_date && terms.deferral_months > 0) {
    refuse("first_payment_date", dates::iso(*terms.first_payment_date),
           "and deferral_months both say when payments begin", "one of the two");
  }
  const bool lump = terms.lump_usd > 0 || terms.lump_share > 0;
  const bool lump_day = terms.lump_months > 0 || terms.lump_date.has_value();
  if (terms.lump_usd > 0 && terms.lump_share > 0) {
    refuse("lump_usd", errors::plain_number(terms.lump_usd), "and lump_share are the same payment", "one of the two");
  }
  if (terms.lump_months > 0 && terms.lump_date) {
    refuse("lump_months", text(terms.lump_months), "and lump_date are the same day", "one of the two");
  }
  if (lump && !lump_day) {
    refuse("lump_months", "", "is not given, nor lump_date, so the lump has no day", "one of the two");
  }
  if (!lump && lump_day) {
    refuse("lump_usd", "", "is not given, nor lump_share, so the lump has no amount", "one of the two");
  }
  if (terms.early_payoff_months > terms.term_months) {
    refuse("early_payoff_months", text(terms.early_payoff_months), "is after the end of the term",
           fmt::format("at most term_months ({})", terms.term_months));
  }
  if (terms.buy_down_rate > 0 && terms.buy_down_payer.empty()) {
    throw errors::MissingValue(
        {{"", {}, {}, "buy_down_payer"}, "", "is missing", "who pays the lender for the lower rate"});
  }
}

std::string shape_of(const LoanTerms& terms) {
  std::vector<std::string> parts;
  const auto add = [&](bool holds, auto&& text) {
    if (holds) parts.push_back(text());
  };
  add(terms.payments_per_year != 12, [&] { return fmt::format("{} payments a year", terms.payments_per_year); });
  add(terms.first_payment_date.has_value(),
      [&] { return fmt::format("first payment {}", dates::iso(*terms.first_payment_date)); });
  add(terms.deferral_months > 0, [&] {
    return fmt::format("{} months deferred, interest {}", terms.deferral_months,
                       terms.deferred_interest == DeferredInterest::waived_if_paid ? "waived if paid by then"
                                                                                   : name_of(terms.deferred_interest));
  });
  add(terms.interest_only_months > 0,
      [&] { return fmt::format("{} months interest only", terms.interest_only_months); });
  add(terms.balloon_share > 0,
      [&] { return fmt::format("{} % due at the end", errors::plain_number(terms.balloon_share * 100)); });
  add(terms.amortisation_months > terms.term_months,
      [&] { return fmt::format("payments of {} months, the rest due at the end", terms.amortisation_months); });
  add(terms.lump_usd > 0 || terms.lump_share > 0 || terms.lump_from_incentives, [&] {
    return std::string(terms.lump_from_incentives ? "incentives paid to the lender" : "a lump payment") +
           (terms.reamortise ? ", then lower payments" : ", then a shorter term");
  });
  add(terms.early_payoff_months > 0, [&] { return fmt::format("paid off at month {}", terms.early_payoff_months); });
  add(terms.dealer_fee_share > 0,
      [&] { return fmt::format("dealer fee {} %", errors::plain_number(terms.dealer_fee_share * 100)); });
  add(terms.points_share > 0 || terms.fee_usd > 0, [&] {
    return std::string(terms.fees_financed ? "points and fees financed" : "points and fees paid at the start");
  });
  add(terms.buy_down_rate > 0, [&] {
    return fmt::format("rate lowered by {} points, paid by {}", errors::plain_number(terms.buy_down_rate * 100),
                       terms.buy_down_payer);
  });
  add(terms.collected_on == CollectedOn::utility_bill, [] { return std::string("on the utility bill"); });
  add(terms.collected_on == CollectedOn::property_tax_bill, [] { return std::string("on the property-tax bill"); });
  return fmt::format("{}", fmt::join(parts, "; "));
}

int periods_in(const LoanTerms& terms, int months) {
  return (months * terms.payments_per_year + 6) / 12;
}

dates::Date payment_date(const LoanTerms& terms, dates::Date start, int number) {
  const dates::Date from = terms.first_payment_date.value_or(start);
  const int periods = terms.first_payment_date ? number - 1 : number;
  if (const int apart = months_apart(terms); apart > 0) return dates::add_months(from, apart * periods);
  return dates::Date{std::chrono::sys_days{from} + std::chrono::days{days_apart(terms) * periods}};
}

PaymentDates::PaymentDates(const LoanTerms& terms, dates::Date start)
    : days_apart_(months_apart(terms) > 0 ? 0 : days_apart(terms)),
      on_(payment_date(terms, start, 1)),
      months_(terms.first_payment_date.value_or(start), std::max(1, months_apart(terms))) {
  // A start on the 31st is kept: months are counted from it, and not from the first payment.
  if (!terms.first_payment_date) months_.next();
}

FirstPeriod first_period(const LoanTerms& terms, dates::Date start) {
  if (!terms.first_payment_date) return {};
  const dates::Date first = *terms.first_payment_date;
  const int days = dates::days_between(start, first);
  if (days < 1) {
    throw errors::ValueOutOfRange({{"", {}, {}, "first_payment_date"},
                                   dates::iso(first),
                                   "is not after the start of the loan",
                                   fmt::format("a day after {}", dates::iso(start))});
  }
  const int apart = months_apart(terms);
  if (apart == 0) return {days / days_apart(terms), days % days_apart(terms)};
  const int months =
      12 * (dates::year_of(first) - dates::year_of(start)) + dates::month_of(first) - dates::month_of(start);
  int whole = months / apart;
  if (dates::days_between(start, dates::add_months(first, -apart * whole)) < 0) --whole;
  return {whole, dates::days_between(start, dates::add_months(first, -apart * whole))};
}

}  // namespace warmledger::loans
