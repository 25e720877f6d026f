#include "warmledger/loans/schedule.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <type_traits>

#include "warmledger/errors/errors.hpp"
#include "warmledger/loans/shapes.hpp"
#include "warmledger/money/whole_cents.hpp"

namespace warmledger::loans {

using money::Decimal;

namespace {

/// Above this a double's product of balance and rate is no longer sure of its cent.
constexpr double most_in_double_usd = 100000;

template <class N>
N in_cents(const N& dollars) {
  return money::round_whole_cents(N(dollars * N(100)));
}

/// Works in whole cents, which both number types hold exactly, so that only interest is ever rounded.
template <class N>
class Amortisation {
 public:
  Amortisation(const LoanTerms& terms, const Lending<N>& lending, dates::Date start, const N& yearly,
               std::span<const DatedFlow<N>> extra)
      : terms_(terms),
        rates_(period_rates(terms, yearly, start)),
        count_(std::max(1, periods_in(terms, terms.term_months))),
        deferred_(periods_in(terms, terms.deferral_months)),
        repaying_from_(deferred_ + periods_in(terms, terms.interest_only_months) + 1),
        horizon_(terms.amortisation_months > 0 ? std::max(count_, periods_in(terms, terms.amortisation_months))
                                               : count_),
        residue_(in_cents(N(lending.amount * N(terms.balloon_share)))),
        dates_(terms, start),
        extra_(extra) {
    schedule_.lending = lending;
    schedule_.amount = lending.amount;
    schedule_.start = start;
    schedule_.payments_per_year = terms.payments_per_year;
    if (terms.lump_usd > 0 || terms.lump_share > 0) {
      const N lump = terms.lump_usd > 0 ? N(terms.lump_usd) : N(lending.amount * N(terms.lump_share));
      lump_ = DatedFlow<N>{terms.lump_date.value_or(dates::add_months(start, terms.lump_months)), lump};
    }
    if (terms.early_payoff_months > 0) payoff_ = dates::add_months(start, terms.early_payoff_months);
  }

  Schedule<N> run() {
    schedule_.payments.reserve(static_cast<std::size_t>(count_));
    const N amount = in_cents(schedule_.amount);
    N balance = amount;
    N paid(0);
    N added(0);
    for (int number = 1; number <= count_ && balance > N(0); ++number) paid += line(number, balance, added);
    schedule_.total_interest = in_dollars(N(paid - amount));
    schedule_.added_interest = in_dollars(added);
    return std::move(schedule_);
  }

 private:
  static N in_dollars(const N& cents) {
    if (cents == N(0)) return N(0);  // what is added and lumps, nearly always
    if constexpr (std::is_same_v<N, Decimal>) {
      return N(cents / 100U);  // one pass; a division of two Decimals takes as long as a hundred sums
    } else {
      return cents / 100;
    }
  }

  /// Works out and keeps one line after which `balance` is owed; returns its payment in cents.
  N line(int number, N& balance, N& added_in_all) {
    const dates::Date date = dates_.next();
    const N& rate = number == 1 ? rates_.first : rates_.regular;
    N accrued = money::round_whole_cents(N(balance * rate), terms_.rounding);
    const bool payoff = payoff_ && *payoff_ <= date;
    N due(0);
    if (number <= deferred_) {
      if (terms_.deferred_interest != DeferredInterest::added) accrued = waiting(number, payoff, accrued);
    } else if (number < repaying_from_) {
      due = accrued;
    } else {
      if (!agreed_) agree(number, rate, N(balance));  // a copy: balance stays in a register
      due = *agreed_;
    }
    const N owed = N(balance + accrued);
    if (number == count_ || owed < due) [[unlikely]]
      due = owed;
    N lump(0);
    if (payoff) {
      lump = N(owed - due);
    } else if (lump_ || next_extra_ < extra_.size()) {
      lump = std::min(lumps_until(date), N(owed - due));
      if (lump > N(0) && terms_.reamortise) agreed_.reset();
    }
    N payment = N(due + lump);
    const N interest = std::min(payment, accrued);
    const N added = N(accrued - interest);
    balance = N(owed - payment);
    added_in_all += added;
    schedule_.payments.push_back({number, date, in_dollars(payment), in_dollars(interest),
                                  in_dollars(N(payment - interest)), in_dollars(balance), in_dollars(added),
                                  in_dollars(lump)});
    return payment;
  }

  /// Interest of a deferral that bears none now: what is charged with this line.
  N waiting(int number, bool payoff, const N& accrued) {
    waiting_ += accrued;
    const bool charged = terms_.deferred_interest == DeferredInterest::waived_if_paid && number == deferred_ && !payoff;
    return charged ? waiting_ : N(0);
  }

  void agree(int number, const N& rate, const N& balance) {
    const int left = horizon_ - number + 1;
    const N level = residue_ == N(0) && rate == rates_.regular
                        ? level_payment(balance, rate, left)
                        : level_payment_to(balance, rates_.regular, rate, left, std::min(residue_, balance));
    // A loan of a few cents would round to a payment of nothing; one cent is the least that repays it.
    agreed_ = std::max(N(1), money::round_whole_cents(level, terms_.rounding));
    if (schedule_.level_payment == N(0)) schedule_.level_payment = in_dollars(*agreed_);
  }

  N lumps_until(dates::Date date) {
    N sum(0);
    if (lump_ && lump_->date <= date) {
      sum += in_cents(lump_->amount);
      lump_.reset();
    }
    for (; next_extra_ < extra_.size() && extra_[next_extra_].date <= date; ++next_extra_) {
      sum += in_cents(extra_[next_extra_].amount);
    }
    return sum;
  }

  const LoanTerms& terms_;
  PeriodRates<N> rates_;
  int count_;          ///< payment periods of the term
  int deferred_;       ///< of them, in which nothing is paid
  int repaying_from_;  ///< the first that repays principal
  int horizon_;        ///< periods over which the payment is worked out
  N residue_;          ///< cents that the level payment leaves to the last one
  N waiting_{};        ///< cents of interest that a payoff in time would save
  PaymentDates dates_;
  std::span<const DatedFlow<N>> extra_;
  std::size_t next_extra_ = 0;
  std::optional<DatedFlow<N>> lump_;
  std::optional<dates::Date> payoff_;
  std::optional<N> agreed_;  ///< cents
  Schedule<N> schedule_;
};

Lending<double> rounded(const Lending<Decimal>& lending) {
  using money::to_double;
  return {to_double(lending.amount), to_double(lending.proceeds), to_double(lending.dealer_fee),
          to_double(lending.points_and_fee), to_double(lending.paid_at_closing)};
}

Schedule<double> rounded(const Schedule<Decimal>& fine) {
  using money::to_double;
  Schedule<double> schedule;
  schedule.lending = rounded(fine.lending);
  schedule.amount = schedule.lending.amount;
  schedule.start = fine.start;
  schedule.payments_per_year = fine.payments_per_year;
  schedule.level_payment = to_double(fine.level_payment);
  schedule.total_interest = to_double(fine.total_interest);
  schedule.added_interest = to_double(fine.added_interest);
  schedule.payments.reserve(fine.payments.size());
  for (const Payment<Decimal>& line : fine.payments) {
    schedule.payments.push_back({line.number, line.date, to_double(line.payment), to_double(line.interest),
                                 to_double(line.principal), to_double(line.balance), to_double(line.added),
                                 to_double(line.lump)});
  }
  return schedule;
}

std::vector<DatedFlow<Decimal>> in_50_digits(std::span<const DatedFlow<double>> flows) {
  std::vector<DatedFlow<Decimal>> fine;
  fine.reserve(flows.size());
  for (const DatedFlow<double>& flow : flows) fine.push_back({flow.date, Decimal(flow.amount)});
  return fine;
}

template <class N>
Schedule<N> schedule_at(const N& needed, const LoanTerms& terms, dates::Date start, const N& yearly,
                        std::span<const DatedFlow<N>> extra) {
  const Lending<N> lending = lend(needed, terms);
  if constexpr (std::is_same_v<N, double>) {
    if (lending.amount > most_in_double_usd) {
      const auto fine = in_50_digits(extra);
      return rounded(schedule_at<Decimal>(Decimal(needed), terms, start, Decimal(yearly), fine));
    }
  }
  return Amortisation<N>(terms, lending, start, yearly, extra).run();
}

}  // namespace

template <class N>
Lending<N> lend(const N& needed, const LoanTerms& terms) {
  check(terms);
  errors::require_in_range("amount", money::to_double(needed), 0.0, 1e12, "dollars");
  Lending<N> lending;
  if (money::round_cents(needed) == N(0)) return lending;
  if (terms.dealer_fee_share == 0 && terms.points_share == 0 && terms.fee_usd == 0) {
    lending.amount = lending.proceeds = money::round_cents(N(std::min(needed, N(terms.largest_usd))));
    return lending;
  }
  const N dealer(terms.dealer_fee_share);
  const N points = terms.fees_financed ? N(terms.points_share) : N(0);
  const N fee = terms.fees_financed ? N(terms.fee_usd) : N(0);
  const N wanted = N((needed + fee) / (N(1) - dealer - points));
  lending.amount = money::round_cents(std::min(wanted, N(terms.largest_usd)));
  lending.dealer_fee = money::round_cents(N(lending.amount * dealer));
  lending.points_and_fee = money::round_cents(N(lending.amount * N(terms.points_share) + N(terms.fee_usd)));
  if (!terms.fees_financed) lending.paid_at_closing = lending.points_and_fee;
  lending.proceeds =
      money::round_cents(N(lending.amount - lending.dealer_fee - (lending.points_and_fee - lending.paid_at_closing)));
  if (lending.proceeds <= lending.paid_at_closing) return {};
  return lending;
}

template <class N>
Schedule<N> make_schedule(const N& needed, const LoanTerms& terms, dates::Date start,
                          std::span<const DatedFlow<N>> extra) {
  return schedule_at<N>(needed, terms, start, terms.household_rate<N>(), extra);
}

template <class N>
N owed_on(const Schedule<N>& schedule, dates::Date date) {
  const auto& payments = schedule.payments;
  const auto next = std::partition_point(payments.begin(), payments.end(),
                                         [date](const Payment<N>& line) { return line.date <= date; });
  const bool none_before = next == payments.begin();
  N balance = none_before ? schedule.amount : std::prev(next)->balance;
  if (next == payments.end()) return balance;
  const dates::Date since = none_before ? schedule.start : std::prev(next)->date;
  const int passed = dates::days_between(since, date);
  if (passed <= 0) return balance;
  const N interest = N((next->interest + next->added) * N(passed) / N(dates::days_between(since, next->date)));
  return money::round_cents(N(balance + interest));
}

namespace {

/// Present value on the start of a schedule's payments, by its payment periods.
template <class N>
N present_value(const Schedule<N>& schedule, const PeriodRates<N>& rates) {
  const N factor = N(N(1) / (N(1) + rates.regular));
  N value(0);
  for (std::size_t k = schedule.payments.size(); k > 1; --k)
    value = N((value + schedule.payments[k - 1].payment) * factor);
  if (!schedule.payments.empty()) value = N((value + schedule.payments[0].payment) / (N(1) + rates.first));
  return value;
}

}  // namespace

template <class N>
BuyDown<N> buy_down(const N& needed, const LoanTerms& terms, dates::Date start, std::span<const DatedFlow<N>> extra) {
  const N full(terms.yearly_rate);
  const Schedule<N> with = make_schedule(needed, terms, start, extra);
  if (terms.buy_down_rate == 0) return {N(0), with.level_payment, with.level_payment};
  const Schedule<N> without = schedule_at<N>(needed, terms, start, full, extra);
  const PeriodRates<N> rates = period_rates(terms, full, start);
  const N cost = money::round_cents(N(present_value(without, rates) - present_value(with, rates)));
  return {std::max(cost, N(0)), without.level_payment, with.level_payment};
}

namespace {
template <class N>
using Flows = std::span<const DatedFlow<N>>;
}  // namespace

#define WARMLEDGER_INSTANTIATE(N)                                                           \
  template Lending<N> lend<N>(const N&, const LoanTerms&);                                  \
  template Schedule<N> make_schedule<N>(const N&, const LoanTerms&, dates::Date, Flows<N>); \
  template N owed_on<N>(const Schedule<N>&, dates::Date);                                   \
  template BuyDown<N> buy_down<N>(const N&, const LoanTerms&, dates::Date, Flows<N>);
WARMLEDGER_INSTANTIATE(double)
WARMLEDGER_INSTANTIATE(Decimal)
#undef WARMLEDGER_INSTANTIATE

}  // namespace warmledger::loans
