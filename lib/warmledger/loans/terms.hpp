// Loans: the terms of every shape that households and lenders meet.
//
// Not lending advice: the lender's own contract and disclosure govern.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "warmledger/dates/dates.hpp"
#include "warmledger/money/money.hpp"

namespace warmledger::loans {

/// What becomes of the interest of a deferral, in which nothing is paid.
enum class DeferredInterest {
  added,          ///< added to the balance period by period, and bears interest
  waived,         ///< the lender charges none
  waived_if_paid  ///< "same as cash": none if the loan is paid off by the end of the deferral, all of it otherwise
};
[[nodiscard]] std::string_view name_of(DeferredInterest interest);

/// Where the payment is collected.
enum class CollectedOn { loan_bill, utility_bill, property_tax_bill };
[[nodiscard]] std::string_view name_of(CollectedOn bill);

/// A loan as a lender offers it. Months are counted from the start of the loan; shapes combine unless check() says no.
struct LoanTerms {
  std::string id;
  std::string title;
  double yearly_rate = 0;                               ///< nominal, of the lender; 0.06 is 6 %; 0 to 1
  int term_months = 120;                                ///< from the start to the last payment; 1 to 600
  double largest_usd = 1e12;                            ///< most that is lent
  money::Rounding rounding = money::Rounding::half_up;  ///< of the payment and of each period's interest

  /// 52, 26, 12, 4, 2 or 1. A period bears yearly_rate / payments_per_year, whatever days it has; payments fall 7 or 14
  /// days, or whole months, apart. Weekly and biweekly loans have term_months / 12 times as many payments, to the
  /// nearest whole one; for the others the months must be whole periods.
  int payments_per_year = 12;
  /// Empty: one period after the start. Otherwise the first period is odd: whole periods counted back from this date
  /// bear the period's rate, and the days left over (actual days) yearly_rate / odd_days_year each.
  std::optional<dates::Date> first_payment_date = std::nullopt;
  int odd_days_year = 365;  ///< 365 or 360

  int deferral_months = 0;  ///< at the start, in which nothing is paid; 0 to 120
  DeferredInterest deferred_interest = DeferredInterest::added;
  int interest_only_months = 0;  ///< after the deferral, in which only interest is paid

  double balloon_share = 0;     ///< of the amount lent, still owed with the last payment and due with it; below 1
  int amortisation_months = 0;  ///< 0 or above term_months: payments are those of this term, the rest is due at the end

  /// A planned extra payment, applied with the first payment on or after its day. Given as dollars or as a share of the
  /// amount lent; at a month or on a date.
  double lump_usd = 0;
  double lump_share = 0;
  int lump_months = 0;
  std::optional<dates::Date> lump_date = std::nullopt;
  /// The household hands each incentive that arrives after the start to the lender (known to an appraisal only).
  bool lump_from_incentives = false;
  bool reamortise = false;       ///< after a lump the payment falls and the term stays; otherwise the loan ends sooner
  int early_payoff_months = 0;   ///< 0, or everything is paid with the first payment from then on
  double dealer_fee_share = 0;   ///< of the amount lent, kept from the seller, who raises the price by it
  double points_share = 0;       ///< of the amount lent, charged by the lender
  double fee_usd = 0;            ///< charged by the lender
  bool fees_financed = false;    ///< points and fee are lent too; otherwise the household pays them at the start
  double buy_down_rate = 0;      ///< a sponsor pays the lender to lower yearly_rate by this
  std::string buy_down_payer{};  ///< who pays for it; required with buy_down_rate
  CollectedOn collected_on = CollectedOn::loan_bill;
  /// The marginal tax rate at which the household deducts the interest, where its rule says that it may (26 U.S.C.
  /// 163(h): secured by the home and spent on improving it, and the household itemizes); 0: it may not. Known to an
  /// appraisal only; ask a tax preparer.
  double interest_deduction_rate = 0;

  /// The nominal yearly rate that the household pays.
  template <class N>
  [[nodiscard]] N household_rate() const {
    return N(N(yearly_rate) - N(buy_down_rate));
  }
};

/// Throws ValueOutOfRange naming the member, MissingValue or Contradiction for members that do not go together.
void check(const LoanTerms& terms);

/// The shape in words: what differs from level monthly payments without charges; empty if nothing does.
[[nodiscard]] std::string shape_of(const LoanTerms& terms);

/// Payments that fall in `months`, to the nearest whole one.
[[nodiscard]] int periods_in(const LoanTerms& terms, int months);

/// Day of payment `number` (from 1) of a loan paid out on `start`.
[[nodiscard]] dates::Date payment_date(const LoanTerms& terms, dates::Date start, int number);

/// The days of payments 1, 2, 3 ..., one after the other: payment_date without its divisions.
class PaymentDates {
 public:
  PaymentDates(const LoanTerms& terms, dates::Date start);

  /// The next one, from the first.
  [[nodiscard]] dates::Date next() {
    if (days_apart_ > 0) {
      const dates::Date day{on_};
      on_ += std::chrono::days{days_apart_};
      return day;
    }
    const dates::Date day = months_.day();
    months_.next();
    return day;
  }

 private:
  int days_apart_;  ///< 0 where they are whole months apart
  std::chrono::sys_days on_;
  dates::MonthDays months_;
};

/// The first period of a loan paid out on `start`: whole periods, and actual days before them.
struct FirstPeriod {
  int whole = 1;
  int days = 0;
};
/// Throws ValueOutOfRange when the first payment is not after `start`.
[[nodiscard]] FirstPeriod first_period(const LoanTerms& terms, dates::Date start);

}  // namespace warmledger::loans
