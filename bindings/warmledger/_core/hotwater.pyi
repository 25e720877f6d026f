from .climate import Climate

class SolarSystem:
    def __init__(
        self,
        *,
        gross_area_m2: float = ...,
        optical_efficiency: float = ...,
        loss_w_m2k: float = ...,
        mean_incidence_factor: float = ...,
        collector_count: int = ...,
        tilt_deg: float = ...,
        azimuth_deg: float = ...,
        shading_share: float = ...,
        storage_l: float = ...,
        backup_share_of_tank: float = ...,
        exchanger_effectiveness: float = ...,
        flow_kg_s_m2: float = ...,
        loop: str = ...,
        arrangement: str = ...,
        pump_w: float = ...,
        tank_ua_w_k: float = ...,
    ) -> None: ...
    @property
    def area_m2(self) -> float: ...

class Heater:
    def __init__(
        self, *, kind: str, fuel: str, uniform_energy_factor: float, recovery_efficiency: float, input_w: float
    ) -> None: ...
    @property
    def recovery_efficiency(self) -> float: ...
    @property
    def standby_ua_w_k(self) -> float: ...
    @property
    def input_w(self) -> float: ...

class Year:
    @property
    def mains_c(self) -> list[float]: ...
    @property
    def tilted_kwh_m2_day(self) -> list[float]: ...
    @property
    def load_kwh(self) -> list[float]: ...
    @property
    def solar_kwh(self) -> list[float]: ...
    @property
    def fuel_without_kwh(self) -> list[float]: ...
    @property
    def backup_with_kwh(self) -> list[float]: ...
    @property
    def pump_kwh(self) -> list[float]: ...
    @property
    def solar_fraction(self) -> list[float]: ...
    @property
    def notes(self) -> list[str]: ...
    @property
    def solar_fraction_by_heat(self) -> float: ...
    @property
    def solar_fraction_by_fuel(self) -> float: ...

def correlate(
    system: SolarSystem, *, litre_day: float, set_temperature_c: float, heater: Heater, climate: Climate
) -> Year: ...
